/** The numbers of two points: each point, what lies between them, each with its ±; the points are moved by keys here. */
import type { JSX } from "preact";
import { DASH, number, rough, withUnit } from "../core/format";
import type { Between as Found, KeptTrace } from "../core/kept";
import { type Point, lineOf } from "../core/points";
import { withUncertainty } from "../core/rounding";
import { placeWords } from "../core/rows";
import { keyOf, placeOf } from "../core/shown";
import type { Store } from "../core/store";
import { measure } from "./measure";

const OWN: Readonly<Record<string, readonly [string, string]>> = {
  time_s: ["Time", "s"],
  one_cycle_hz: ["As one cycle", "Hz"],
  angle_deg: ["Angle of the fundamental", "°"],
  difference: ["Difference", ""],
  active_power_w: ["Mean power", "W"],
  energy_j: ["Energy", "J"],
};
const STANDS = { zero: "at a zero", peak: "at a peak", sample: "at a sample", free: "free" } as const;

export function BetweenPoints({ store }: { store: Store }): JSX.Element | null {
  const [trace, points] = [measure.trace, measure.points.value];
  if (!trace || points.every((point) => point === null)) return null;
  const found = measure.found.value;
  return (
    <div class="between" role="group" aria-label="Two points">
      <div class="handles">{points.map((point, k) => point && <Handle key={k} which={k} point={point} trace={trace} />)}</div>
      <p class="second">Arrow keys: to the zero or peak beside it, with Shift to the sample, up and down to another line; Enter or a second press frees it.</p>
      {found && (
        <>
          <dl class="fields">
            {Object.keys(found).filter((id) => id !== "value_one" && id !== "value_other").map((id) => <Row key={id} id={id} found={found} store={store} unit={lineOf(trace, points[0]!.channel)?.unit ?? ""} />)}
          </dl>
          <p class="second">± is the 95 % uncertainty; where it is missing the board does not state what it needs.</p>
        </>
      )}
    </div>
  );
}

/** A point as a slider: what it stands at is what the keys move. */
function Handle({ which, point, trace }: { which: number; point: Point; trace: KeptTrace }): JSX.Element {
  const line = lineOf(trace, point.channel);
  const value = measure.found.value?.[which === 0 ? "value_one" : "value_other"];
  const reading = typeof value?.value === "number" ? withUncertainty(value.value, typeof value.u95 === "number" ? value.u95 : 0, line?.unit ?? "") : rough(point.value, line?.unit ?? "");
  const words = `${line?.name ?? ""} ${reading}, ${STANDS[point.stand]}`;
  const key = (event: KeyboardEvent): void => {
    const acts: Record<string, () => void> = {
      ArrowLeft: () => measure.step(which, false, event.shiftKey),
      ArrowRight: () => measure.step(which, true, event.shiftKey),
      ArrowUp: () => measure.otherLine(which, false),
      ArrowDown: () => measure.otherLine(which, true),
      Enter: () => measure.free(which),
    };
    const act = acts[event.key];
    if (!act) return;
    event.preventDefault();
    act();
  };
  return (
    <div
      class="handle" role="slider" tabIndex={0} aria-label={`Point ${which + 1}`} onKeyDown={key}
      aria-valuemin={0} aria-valuemax={Math.round(trace.span_s * 1e6)} aria-valuenow={Math.round((point.at_s - trace.from_s) * 1e6)} aria-valuetext={words}
    >
      <b>{which + 1}</b> <span>{words}</span>
    </div>
  );
}

function Row({ id, found, store, unit }: { id: string; found: Found; store: Store; unit: string }): JSX.Element {
  const { value, u95, confidence, reason } = found[id]!;
  const quantity = store.quantity(keyOf(id));
  const [label, own] = OWN[id] ?? [labelOf(quantity?.label ?? id, placeOf(id)), quantity?.unit ?? ""];
  const text = typeof value === "number" ? written(value, typeof u95 === "number" ? u95 : null, id === "difference" ? unit : own) : DASH;
  return (
    <div>
      <dt>{label}</dt>
      <dd class={confidence === "absent" ? "none" : ""}><span class={confidence === "doubtful" ? "doubt" : ""}>{text}</span></dd>
      {reason && <dd class="note">{`${confidence}: ${reason}`}</dd>}
    </div>
  );
}

/** "current, RMS" at L2 -> "RMS current, L2" */
function labelOf(label: string, place: string): string {
  const words = label.split(", ").reverse().join(" ");
  return `${words.charAt(0).toUpperCase()}${words.slice(1)}${place && `, ${placeWords(place)}`}`;
}

/** Seconds in ms, as the axis has them; what has no ± as near as the drawing tells it. */
function written(value: number, u95: number | null, unit: string): string {
  if (unit === "s") return written(value * 1000, u95 === null ? null : u95 * 1000, "ms");
  if (u95 !== null && u95 > 0) return withUncertainty(value, u95, unit);
  return unit === "ms" || unit === "Hz" || unit === "°" ? withUnit(number(value, 3), unit) : rough(value, unit);
}
