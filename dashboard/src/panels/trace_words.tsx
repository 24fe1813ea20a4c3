/** Names, peaks, dimension and axis of the drawing of voltage and current. */
import { type ReadonlySignal, useComputed } from "@preact/signals";
import type { JSX } from "preact";
import { crossing } from "../core/columns";
import { gapLength, rangeWords } from "../core/cautions";
import { number, rough, stretch, withUnit } from "../core/format";
import type { Line, Picture, Trace } from "../core/picture";
import type { Store } from "../core/store";
import { ticks } from "../core/ticks";
import { phase, phaseWords } from "../core/words";
import { DimensionAcross, Low, Words } from "../draw/dimension";
import type { Size } from "../draw/drawing";
import { type Ends, type Layout, type RowPlace, layoutOf } from "./trace_layout";

const TOP = 9; // the highest place at which a word still stands inside
const LINE = 17; // words of 14 px need this much from one to the next

interface Props {
  readonly store: Store;
  readonly calm: Picture | null;
  readonly ends: ReadonlySignal<Ends | null>;
  readonly size: Size;
}

/** The scale steps rarely: only then, and twice a second, are all words set anew. */
export function TraceWords({ store, calm, ends, size }: Props): JSX.Element | null {
  const trace = calm?.trace;
  const step = useComputed(() => stepOf(ends.value));
  if (!trace || !step.value || !ends.peek()) return null;
  const now = ends.peek()!;
  const layout = layoutOf(trace, size, now.oneSided);
  const all = { layout, trace, ends: now, slim: size.slim };
  return (
    <>
      {layout.rows.map((place, k) => <RowWords key={k} place={place} {...all} />)}
      <Dimension store={store} calm={calm} oneSided={now.oneSided} size={size} />
      {layout.power && trace.power && <PowerWords {...all} />}
      <GapWords store={store} layout={layout} />
      <TimeAxis trace={trace} layout={layout} slim={size.slim} />
    </>
  );
}

function stepOf(ends: Ends | null): string {
  return ends ? [ends.oneSided, ends.end("voltage", true), ends.end("current", true), ends.power].join() : "";
}

interface RowProps {
  readonly place: RowPlace;
  readonly layout: Layout;
  readonly trace: Trace;
  readonly ends: Ends;
  readonly slim: boolean;
}

function RowWords({ place, layout, trace, ends, slim }: RowProps): JSX.Element {
  const { row, y0, half } = place;
  const end = (role: "voltage" | "current"): number => ends.end(role, true);
  if (row.name !== "") return <ExtraWords place={place} layout={layout} slim={slim} />;
  return (
    <>
      {row.voltage && <Peaks line={row.voltage} {...{ y0, slim }} ky={half / end("voltage")} x={slim ? layout.left : layout.left - 8} left />}
      {row.current && <Peaks line={row.current} {...{ y0, slim }} ky={half / end("current")} x={slim ? layout.right : layout.right + 8} left={false} />}
      <Names {...{ place, layout, trace, ends, slim }} />
    </>
  );
}

/** Range frame: the axis reaches only as far as the data did, and its ends carry the measured peaks. */
function Peaks({ line, y0, ky, x, left, slim }: { line: Line; y0: number; ky: number; x: number; left: boolean; slim: boolean }): JSX.Element {
  const [low, high] = line.peak;
  const name = `${left ? "e " : ""}${line.role}`;
  const at = left ? x - 6 : x + 6;
  const isZero = (value: number): boolean => Math.abs(value) < 0.005;
  const sign = (value: number): string => (value > 0 && !isZero(value) ? "+" : "") + rough(value, line.unit);
  if (slim) return <Words x={x} y={14} class={`${left ? "" : "e "}${line.role}`}>{`${sign(high)}, ${sign(low)}`}</Words>;
  const [top, foot] = spread(y0 - high * ky, y0 - low * ky, y0);
  return (
    <>
      <line class="hair" x1={x} x2={x} y1={y0 - Math.max(high, 0) * ky} y2={y0 - Math.min(low, 0) * ky} />
      {!isZero(high) && <Words x={at} y={top + 5} class={name}>{sign(high)}</Words>}
      {!isZero(low) && <Words x={at} y={foot + 5} class={name}>{sign(low)}</Words>}
      <Words x={at} y={y0 + 5} class={left ? "e n" : "n"}>0</Words>
      {line.clipped && <Words x={left ? x + 12 : x - 12} y={y0 + line.range[0] * -ky - 6} class={`${left ? "" : "e "}n halo`}>{`range ${rangeWords(line)}`}</Words>}
    </>
  );
}

/** Heights for the words of highest and lowest, moved apart so that neither stands on the other or on the zero. */
function spread(top: number, foot: number, zero: number): [number, number] {
  const clear = (y: number): number => (y < zero ? Math.min(y, zero - LINE) : Math.max(y, zero + LINE));
  const [above, below] = [clear(top), clear(foot)];
  if (below - above >= LINE) return [above, below];
  if (below > zero) return [above, above + LINE];
  const last = Math.max(below, TOP + LINE);
  return [last - LINE, last];
}

/**
 * The name stands on its line: where lines swing, the voltage's left of a rise and the current's right
 * of a fall; where they are flat, above the beginning, beside each other if they lie together.
 */
function Names({ place: { row, y0, half }, layout, trace, ends, slim }: RowProps): JSX.Element {
  let last = -Infinity;
  return (
    <>
      {([row.voltage, row.current] as const).map((line) => {
        if (!line) return null;
        const voltage = line === row.voltage;
        const ky = half / ends.end(voltage ? "voltage" : "current", true);
        const at = swinging(line, ky) ? onSwing(line, y0, ky, layout, trace, voltage) : null;
        const level = y0 - ((line.peak[0] + line.peak[1]) / 2 > 0 ? line.peak[1] : 0) * ky;
        const y = Math.max(18, level - 8);
        const beside = Math.abs(y - last) < 22;
        last = y;
        const [x, name] = at ? [at.x, voltage ? " e" : ""] : [layout.left + (beside ? 96 : 10), ""];
        return <Words key={line.role} x={x} y={at?.y ?? y} class={`l b ${line.role} halo${name}`}>{slim ? line.name.split(" ")[0] : line.role}</Words>;
      })}
    </>
  );
}

/** Whether the line goes well to both sides of zero, on the drawing. */
function swinging({ peak: [low, high] }: Line, ky: number): boolean {
  return Math.min(-low, high) > 0.5 * Math.max(-low, high) && (high - low) * ky > 40;
}

function onSwing(line: Line, y0: number, ky: number, layout: Layout, trace: Trace, voltage: boolean): { x: number; y: number } | null {
  const level = line.peak[1] * (voltage ? 0.72 : 0.5);
  const cycle = Math.floor(line.low.length / Math.max(trace.cycles ?? 3, 2));
  const k = crossing(line, level, voltage, cycle - 1);
  if (k < 0) return null;
  return { x: layout.left + (k * (layout.right - layout.left)) / line.low.length + (voltage ? -8 : 8), y: y0 - level * ky + 2 };
}

function ExtraWords({ place: { row, y0 }, layout, slim }: { place: RowPlace; layout: Layout; slim: boolean }): JSX.Element {
  const lines = [row.voltage, row.current, row.other].filter((line) => line !== null);
  const swing = (line: Line): string => `${slim && lines.length > 1 ? `${line.name} ` : ""}±${rough(Math.max(-line.peak[0], line.peak[1]), line.unit)}`;
  if (slim) {
    return (
      <text class="halo" transform={`translate(${layout.left} ${y0 - 22})`}>
        <tspan class="b">{row.name}</tspan>
        {lines.map((line) => <tspan key={line.role} class={line.role} dx="8">{swing(line)}</tspan>)}
      </text>
    );
  }
  return (
    <>
      <Words x={layout.left - 14} y={y0 + 5} class="e b">{row.name}</Words>
      {lines.map((line, k) => (
        <Words key={line.role} x={layout.right + 14} y={y0 + 5 + (k - (lines.length - 1) / 2) * 19} class={line.role}>{swing(line)}</Words>
      ))}
    </>
  );
}

/** The phase as a dimension of the drawing; its place follows each picture, its words the far line. */
function Dimension({ store, calm, oneSided, size }: { store: Store; calm: Picture; oneSided: boolean; size: Size }): JSX.Element | null {
  const trace = store.shown.value?.trace;
  if (!trace || trace.zero_voltage_s === null || trace.zero_current_s === null) return null;
  const layout = layoutOf(trace, size, oneSided);
  const main = layout.rows[0];
  const found = phase(calm);
  if (!main || !found) return null;
  const x = (seconds: number): number => layout.left + (seconds / trace.span_s) * (layout.right - layout.left);
  const [from, to] = [x(trace.zero_voltage_s), x(trace.zero_current_s)];
  const [a, b] = from < to ? [from, to] : [to, from];
  const doubtful = calm.readings["phase_angle_deg"]?.confidence === "doubtful";
  return (
    <>
      <DimensionAcross from={from} to={to} y={layout.dimensionY} reachFrom={main.y0} />
      <Words x={b + (b - a > 26 ? 12 : 24)} y={layout.dimensionY + 5} class={`l b halo${doubtful ? " doubt" : ""}`}>
        {phaseWords(found, size.slim)}
        {!size.slim && found.cos !== null && (
          <>, cos <Low base="φ" index="1" /> = {number(Math.abs(found.cos), 3)} {found.word}</>
        )}
      </Words>
    </>
  );
}

function PowerWords({ layout, trace, ends, slim }: Omit<RowProps, "place">): JSX.Element | null {
  const { power } = trace;
  if (!layout.power || !power) return null;
  const { y0, half } = layout.power;
  const mean = power.mean === null ? "" : rough(power.mean, "W");
  const back = power.back_percent === null || power.back_percent < 0.05 ? "" : withUnit(number(power.back_percent, power.back_percent < 10 ? 1 : 0), "%");
  const y = power.mean === null ? y0 : y0 - (power.mean * half) / ends.power;
  const line = power.mean !== null && <line class="ghost" x1={layout.left} x2={layout.right} y1={y} y2={y} />;
  if (slim) return <>{line}<Words x={layout.left} y={y0 - half - 10} class="n halo">{`u × i: mean ${mean}${back && `, ${back} goes back (hatched)`}`}</Words></>;
  return (
    <>
      {line}
      <Words x={layout.left - 14} y={y0 + 5} class="e b">u × i</Words>
      <Words x={layout.right + 14} y={Math.min(y + 5, y0)} class="b">{`P ${mean}`}</Words>
      <Words x={layout.right + 14} y={y0 + 19} class="n">{back && `${back} back`}</Words>
    </>
  );
}

/** Follows each picture, as the hatching below it does: words that stay where no gap is any more would lie. */
function GapWords({ store, layout }: { store: Store; layout: Layout }): JSX.Element | null {
  const gap = useComputed(() => {
    const trace = store.shown.value?.trace;
    const first = trace?.gaps[0];
    return first ? JSON.stringify([(first[0] + first[1]) / 2 / trace.span_s, stretch(gapLength(trace))]) : "";
  });
  const main = layout.rows[0];
  if (!main || !gap.value) return null;
  const [share, length] = JSON.parse(gap.value) as [number, string];
  const x = layout.left + share * (layout.right - layout.left);
  const middle = Math.min(Math.max(x, layout.left + 40), layout.right - 40);
  return <Words x={middle} y={(main.top + main.foot) / 2 + 5} class="m halo">{`${length} lost`}</Words>;
}

function TimeAxis({ trace, layout, slim }: { trace: Trace; layout: Layout; slim: boolean }): JSX.Element {
  const span_ms = trace.span_s * 1000;
  const marks = ticks(span_ms, slim ? 6 : 8);
  const x = (ms: number): number => layout.left + (ms / span_ms) * (layout.right - layout.left);
  const last = marks.length - 1;
  const reaches = (marks[last] ?? 0) > 0.97 * span_ms; // the last mark stands at the end of the axis
  return (
    <>
      {marks.map((ms, k) => (
        <g key={k}>
          <line class="hair" x1={x(ms)} x2={x(ms)} y1={layout.axisY - 4} y2={layout.axisY + 1} />
          <Words x={x(ms)} y={layout.axisY + 17} class={k === 0 ? "n" : k === last && reaches ? "n e" : "n m"}>
            {k === last ? withUnit(String(ms), "ms") : String(ms)}
          </Words>
        </g>
      ))}
    </>
  );
}
