/** Names, peaks, dimension and axis of the drawing of voltage and current. */
import { type ReadonlySignal, useComputed } from "@preact/signals";
import type { JSX } from "preact";
import { crossing, repeats } from "../core/columns";
import { gapLength } from "../core/cautions";
import { below, number, rough, stretch, withUnit } from "../core/format";
import { largest } from "../core/peaks";
import { diagram, phasorWords } from "../core/phasors";
import type { Line, Picture, Readings, Trace } from "../core/picture";
import type { Store } from "../core/store";
import { phase, phaseWords } from "../core/words";
import { DimensionAcross, Low, Words } from "../draw/dimension";
import type { Size } from "../draw/drawing";
import { measure } from "./measure";
import { type Ends, type Layout, type RowPlace, layoutOf } from "./trace_layout";
import { TimeAxis } from "./trace_axis";
import { Means } from "./trace_means";
import { Peaks, doubt } from "./trace_peaks";

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
  const all = { layout, trace, readings: calm.readings, ends: now, slim: size.slim };
  return (
    <>
      {layout.rows.map((place, k) => <RowWords key={k} place={place} {...all} />)}
      {!measure.both.value && <Dimension store={store} calm={calm} oneSided={now.oneSided} size={size} />}
      {layout.power && trace.power && <PowerWords {...all} />}
      {layout.sequenceY !== null && <Sequence calm={calm} layout={layout} y={layout.sequenceY} slim={size.slim} />}
      <GapWords store={store} layout={layout} />
      <TimeAxis picture={calm} trace={trace} layout={layout} slim={size.slim} />
    </>
  );
}

function stepOf(ends: Ends | null): string {
  return ends ? [ends.oneSided, ends.end("voltage", true), ends.end("current", true), ends.power].join() : "";
}

export interface RowProps {
  readonly place: RowPlace;
  readonly layout: Layout;
  readonly trace: Trace;
  readonly readings: Readings;
  readonly ends: Ends;
  readonly slim: boolean;
}

function RowWords(props: RowProps): JSX.Element {
  const { place: { row, y0, half }, layout, readings, ends, slim } = props;
  const end = (role: "voltage" | "current"): number => ends.end(role, true);
  if (row.name !== "") return <ExtraWords {...props} />;
  const mark = (line: Line): string => doubt(readings, line, true);
  return (
    <>
      {row.voltage && <Peaks line={row.voltage} mark={mark(row.voltage)} {...{ y0, slim }} ky={half / end("voltage")} x={slim ? layout.left : layout.left - 8} left />}
      {row.current && <Peaks line={row.current} mark={mark(row.current)} {...{ y0, slim }} ky={half / end("current")} x={slim ? layout.right : layout.right + 8} left={false} />}
      <Names {...props} />
      {!props.trace.zero_current_s && !measure.both.value && <Means {...props} />}
    </>
  );
}

/** Order and unbalance of three phases, above them. */
function Sequence({ calm, layout, y, slim }: { calm: Picture; layout: Layout; y: number; slim: boolean }): JSX.Element {
  const words = phasorWords(calm, diagram(calm)).filter((each) => / in the order /.test(each));
  const lines = slim ? words : [words.join("; ")];
  return <>{lines.map((text, k) => <Words key={k} x={layout.left} y={y + 22 * k}>{text}</Words>)}</>;
}

/** Of what changes from moment to moment: capitals are RMS, and U a phase. */
const LETTERS: Readonly<Record<string, string>> = { voltage: "u", current: "i" };

/**
 * The name stands on its line: where lines swing, the voltage's left of a rise and the current's right of a fall, or
 * below them all where the picture is held at nothing; where they are flat, above the beginning, beside each other if
 * they lie together, below if there is no room between.
 */
function Names({ place: { row, y0, half }, layout, trace, ends, slim }: RowProps): JSX.Element {
  let before = -Infinity; // level of the voltage
  return (
    <>
      {([row.voltage, row.current] as const).map((line) => {
        if (!line) return null;
        const voltage = line === row.voltage;
        const ky = half / ends.end(voltage ? "voltage" : "current", true);
        const swings = !ends.oneSided && swinging(line, ky);
        if (swings && trace.cycles === null) return <Name key={line.role} line={line} x={layout.left + (voltage ? 10 : slim ? 40 : 96)} y={layout.dimensionY + 5} slim={slim} />;
        const at = swings ? onSwing(line, y0, ky, layout, trace, voltage) : null;
        const level = y0 - ((line.peak[0] + line.peak[1]) / 2 > 0 ? line.peak[1] : 0) * ky;
        const [beside, under] = [Math.abs(level - before) < 6, level - before >= 6 && level - before < 30];
        const y = under ? y0 - line.peak[0] * ky + 20 : Math.max(18, level - 8);
        before = level;
        return <Name key={line.role} line={line} x={at?.x ?? layout.left + (beside ? 96 : 10)} y={at?.y ?? y} slim={slim} ends={at !== null && voltage} />;
      })}
    </>
  );
}

function Name({ line: { role }, x, y, slim, ends = false }: { line: Line; x: number; y: number; slim: boolean; ends?: boolean }): JSX.Element {
  return <Words x={x} y={y} class={`l b ${role} halo${ends ? " e" : ""}`}>{slim ? LETTERS[role] : role}</Words>;
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

function ExtraWords({ place: { row, y0, top }, layout, readings, slim }: RowProps): JSX.Element {
  const lines = [row.voltage, row.current, row.other].filter((line) => line !== null);
  const swing = (line: Line): string => `${slim && lines.length > 1 ? `${LETTERS[line.role] ?? line.name} ` : ""}${largest(line)}`;
  if (slim) {
    return (
      <text class="halo" transform={`translate(${layout.left} ${top - 8})`}>
        <tspan class="b">{row.name}</tspan>
        {lines.map((line) => <tspan key={line.role} class={line.role + doubt(readings, line, false)} dx="8">{swing(line)}</tspan>)}
      </text>
    );
  }
  return (
    <>
      <Words x={layout.left - 14} y={y0 + 5} class="e b">{row.name}</Words>
      {lines.map((line, k) => (
        <Words key={line.role} x={layout.right + 14} y={y0 + 5 + (k - (lines.length - 1) / 2) * 19} class={line.role + doubt(readings, line, false)}>{swing(line)}</Words>
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
  const whole = (line: Line | null | undefined): boolean => !line || repeats(line, trace.cycles ?? 1);
  if (!main || !found || !whole(main.row.voltage) || !whole(main.row.current)) return null; // it has come or gone since the reading
  const x = (seconds: number): number => layout.left + (seconds / trace.span_s) * (layout.right - layout.left);
  const [from, to] = [x(trace.zero_voltage_s), x(trace.zero_current_s)];
  const [a, b] = from < to ? [from, to] : [to, from];
  const doubtful = calm.readings["phase_angle_deg"]?.confidence === "doubtful";
  return (
    <>
      <DimensionAcross from={from} to={to} y={layout.dimensionY} reachFrom={main.y0} />
      <Words x={b + (b - a > 26 ? 12 : 24)} y={layout.dimensionY + 5} class={`l b halo${doubtful ? " doubt" : ""}`}>
        {phaseWords(found, size.slim)}
        {!size.slim && found.cos && (
          <>, cos <Low base="φ" index="1" /> = {found.cos} {found.word}</>
        )}
      </Words>
    </>
  );
}

/** What flows back is told from this share on: less is noise, or not to be seen. */
const BACK_PERCENT = 0.5;

function PowerWords({ layout, trace, readings, ends, slim }: Omit<RowProps, "place">): JSX.Element | null {
  const { power } = trace;
  if (!layout.power || !power) return null;
  const { y0, half } = layout.power;
  const reading = readings["active_power_w"];
  const small = reading?.least !== undefined && Math.abs(power.mean ?? 0) < reading.least;
  const mean = power.mean === null ? "" : small ? below(reading.least, "W", 1) : rough(power.mean, "W");
  const share = !small && /[1-9]/.test(mean) ? (power.back_percent ?? 0) : 0;
  const back = share < BACK_PERCENT ? "" : withUnit(number(share, share < 10 ? 1 : 0), "%");
  const mark = reading?.confidence === "doubtful" ? " doubt" : "";
  const y = power.mean === null ? y0 : y0 - (power.mean * half) / ends.power;
  const line = power.mean !== null && <line class="ghost" x1={layout.left} x2={layout.right} y1={y} y2={y} />;
  if (slim) return <>{line}<Words x={layout.left} y={y0 - half - 10} class={`n halo${mark}`}>{`u × i: mean ${mean}${back && `, ${back} goes back (hatched)`}`}</Words></>;
  return (
    <>
      {line}
      <Words x={layout.left - 14} y={y0 + 5} class="e b">u × i</Words>
      <Words x={layout.right + 14} y={Math.min(y + 5, y0)} class={`b${mark}`}>{`P ${mean}`}</Words>
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
