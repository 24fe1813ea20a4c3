/** The axis of the drawing of voltage and current: milliseconds, or the electrical angle where Hall edges hold the picture. */
import type { JSX } from "preact";
import { number, withUnit } from "../core/format";
import type { Picture, Trace } from "../core/picture";
import { ticks } from "../core/ticks";
import { Words } from "../draw/dimension";
import type { Layout } from "./trace_layout";

interface Mark {
  readonly at: number; // share of the axis
  readonly text: string;
}

export function TimeAxis({ picture, trace, layout, slim }: { picture: Picture; trace: Trace; layout: Layout; slim: boolean }): JSX.Element {
  const marks = electrical(picture, trace) ? angles(trace, slim) : times(trace, slim);
  const x = (share: number): number => layout.left + share * (layout.right - layout.left);
  const last = marks.length - 1;
  const reaches = (marks[last]?.at ?? 0) > 0.9 && (slim || (marks[last]?.at ?? 0) > 0.97); // the last mark stands at the end of the axis
  return (
    <>
      {marks.map(({ at, text }, k) => (
        <g key={k}>
          <line class="hair" x1={x(at)} x2={x(at)} y1={layout.axisY - 4} y2={layout.axisY + 1} />
          <Words x={x(at)} y={layout.axisY + 17} class={k === 0 ? "n" : k === last && reaches ? "n e" : "n m"}>{text}</Words>
        </g>
      ))}
    </>
  );
}

/** Turns between rising edges of Hall A, running forward: A rises at 30 degrees, where sector 1 begins; not with sensors 60 degrees apart. */
function electrical({ hall, motor }: Picture, { cycles, held_at }: Trace): boolean {
  return /^Hall A/.test(held_at) && cycles !== null && hall?.direction === 1 && motor.plate["hall_spacing_deg"] !== 60;
}

const A_RISES = 30;

function angles({ cycles }: Trace, slim: boolean): Mark[] {
  const whole = 360 * cycles!;
  const step = slim ? 360 : 180;
  const count = Math.floor((whole + A_RISES) / step);
  const marks = Array.from({ length: count }, (_, k) => (k + 1) * step);
  const first = { at: 0, text: `${A_RISES}°` };
  return [first, ...marks.map((deg, k) => ({ at: (deg - A_RISES) / whole, text: `${number(deg)}°${k === count - 1 ? " electrical" : ""}` }))];
}

function times({ span_s }: Trace, slim: boolean): Mark[] {
  const span_ms = span_s * 1000;
  const marks = ticks(span_ms, slim ? 6 : 8);
  return marks.map((ms, k) => ({ at: ms / span_ms, text: k === marks.length - 1 ? withUnit(String(ms), "ms") : String(ms) }));
}
