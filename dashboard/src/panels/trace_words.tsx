/** Names, peaks, dimension and axis of the drawing of voltage and current. */
import type { JSX } from "preact";
import { crossing } from "../core/columns";
import { gapLength, lineName, rangeWords } from "../core/cautions";
import { age, number, rough, withUnit } from "../core/format";
import type { Line, Picture, Trace } from "../core/picture";
import type { Store } from "../core/store";
import { ticks } from "../core/ticks";
import { phase, phaseWords } from "../core/words";
import { DimensionAcross, Low, Words } from "../draw/dimension";
import type { Size } from "../draw/drawing";
import { type Layout, type RowPlace, Scales, layoutOf } from "./trace_layout";

interface Props {
  readonly store: Store;
  readonly calm: Picture | null;
  readonly scales: Scales;
  readonly size: Size;
}

export function TraceWords({ store, calm, scales, size }: Props): JSX.Element | null {
  const trace = calm?.trace;
  if (!trace) return null;
  const layout = layoutOf(trace, size);
  const now_ms = performance.now();
  return (
    <>
      {layout.rows.map((place, k) => <RowWords key={k} {...{ place, layout, trace, scales, now_ms, slim: size.slim }} />)}
      <Dimension store={store} calm={calm} size={size} />
      {layout.power && trace.power && <PowerWords {...{ layout, trace, scales, now_ms, slim: size.slim }} />}
      <GapWords trace={trace} layout={layout} />
      <TimeAxis trace={trace} layout={layout} slim={size.slim} />
    </>
  );
}

interface RowProps {
  readonly place: RowPlace;
  readonly layout: Layout;
  readonly trace: Trace;
  readonly scales: Scales;
  readonly now_ms: number;
  readonly slim: boolean;
}

function RowWords({ place, layout, trace, scales, now_ms, slim }: RowProps): JSX.Element {
  const { row, y0, half } = place;
  const end = (role: "voltage" | "current"): number => scales.end(layout, role, row.name === "", now_ms);
  if (row.name !== "") return <ExtraWords place={place} layout={layout} slim={slim} />;
  return (
    <>
      {row.voltage && <Peaks line={row.voltage} {...{ y0, slim }} ky={half / end("voltage")} x={slim ? layout.left : layout.left - 8} left />}
      {row.current && <Peaks line={row.current} {...{ y0, slim }} ky={half / end("current")} x={slim ? layout.right : layout.right + 8} left={false} />}
      {row.voltage && <Name line={row.voltage} {...{ y0, layout, trace, slim }} ky={half / end("voltage")} />}
      {row.current && <Name line={row.current} {...{ y0, layout, trace, slim }} ky={half / end("current")} />}
    </>
  );
}

/** Range frame: the axis reaches only as far as the data did, and its ends carry the measured peaks. */
function Peaks({ line, y0, ky, x, left, slim }: { line: Line; y0: number; ky: number; x: number; left: boolean; slim: boolean }): JSX.Element {
  const [low, high] = line.peak;
  const name = `${left ? "e " : ""}${line.role}`;
  const at = left ? x - 6 : x + 6;
  const sign = (value: number): string => (value > 0 ? "+" : "") + rough(value, line.unit);
  if (slim) return <Words x={x} y={14} class={`${left ? "" : "e "}${line.role}`}>{`${sign(high)}, ${sign(low)}`}</Words>;
  const tight = (high - low) * ky < 46; // a line near zero: its ends would stand on each other
  const [top, foot] = tight ? [y0 - 23, y0 + 23] : [y0 - high * ky, y0 - low * ky];
  return (
    <>
      <line class="hair" x1={x} x2={x} y1={y0 - Math.max(high, 0) * ky} y2={y0 - Math.min(low, 0) * ky} />
      <Words x={at} y={Math.max(14, top + 5)} class={name}>{sign(high)}</Words>
      <Words x={at} y={foot + 5} class={name}>{sign(low)}</Words>
      <Words x={at} y={y0 + 5} class={left ? "e n" : "n"}>0</Words>
      {line.clipped && <Words x={left ? x + 12 : x - 12} y={y0 + line.range[0] * -ky - 6} class={`${left ? "" : "e "}n halo`}>{`range ${rangeWords(line)}`}</Words>}
    </>
  );
}

/** The name stands on the line: the voltage's left of a rise, the current's right of a fall. */
function Name({ line, y0, ky, layout, trace, slim }: { line: Line; y0: number; ky: number; layout: Layout; trace: Trace; slim: boolean }): JSX.Element {
  const voltage = line.role === "voltage";
  const swings = Math.min(-line.peak[0], line.peak[1]) > 0.2 * Math.max(-line.peak[0], line.peak[1]);
  const text = slim ? line.name : lineName(line).toLowerCase();
  const dx = (layout.right - layout.left) / line.low.length;
  if (!swings) {
    const level = line.peak[1] > -line.peak[0] ? line.peak[1] : line.peak[0];
    return <Words x={layout.left + (voltage ? 8 : 120)} y={y0 - level * ky + (level > 0 ? 20 : -8)} class={`l b ${line.role} halo`}>{text}</Words>;
  }
  const from = Math.floor(line.low.length / Math.max(trace.cycles ?? 3, 2)) - 1;
  const level = line.peak[1] * (voltage ? 0.72 : 0.5);
  const k = crossing(line, level, voltage, from);
  if (k < 0) return <Words x={layout.left + 8} y={y0 - 8} class={`l b ${line.role} halo`}>{text}</Words>;
  const x = layout.left + k * dx + (voltage ? -8 : 8);
  return <Words x={x} y={y0 - level * ky + 2} class={`l b ${line.role} halo${voltage ? " e" : ""}`}>{text}</Words>;
}

function ExtraWords({ place: { row, y0 }, layout, slim }: { place: RowPlace; layout: Layout; slim: boolean }): JSX.Element {
  const lines = [row.voltage, row.current, row.other].filter((line) => line !== null);
  const swing = (line: Line): string => `${slim ? `${line.name} ` : ""}±${rough(Math.max(-line.peak[0], line.peak[1]), line.unit)}`;
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
function Dimension({ store, calm, size }: { store: Store; calm: Picture; size: Size }): JSX.Element | null {
  const trace = store.shown.value?.trace;
  if (!trace || trace.zero_voltage_s === null || trace.zero_current_s === null) return null;
  const layout = layoutOf(trace, size);
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

function PowerWords({ layout, trace, scales, now_ms, slim }: Omit<RowProps, "place">): JSX.Element | null {
  const { power } = trace;
  if (!layout.power || !power) return null;
  const { y0, half } = layout.power;
  const mean = power.mean === null ? "" : withUnit(number(power.mean), "W");
  const back = power.back_percent === null ? "" : withUnit(number(power.back_percent, power.back_percent < 10 ? 1 : 0), "%");
  if (slim) return <Words x={layout.left} y={y0 - half - 10} class="n halo">{`u × i: mean ${mean}, ${back} goes back`}</Words>;
  const y = power.mean === null ? y0 : y0 - (power.mean * half) / scales.power(trace, now_ms);
  return (
    <>
      <Words x={layout.left - 14} y={y0 + 5} class="e b">u × i</Words>
      <Words x={layout.right + 14} y={Math.min(y + 5, y0)} class="b">{`P ${mean}`}</Words>
      <Words x={layout.right + 14} y={y0 + 19} class="n">{back && `${back} back`}</Words>
    </>
  );
}

function GapWords({ trace, layout }: { trace: Trace; layout: Layout }): JSX.Element | null {
  const main = layout.rows[0];
  const first = trace.gaps[0];
  if (!main || !first) return null;
  const x = (seconds: number): number => layout.left + (seconds / trace.span_s) * (layout.right - layout.left);
  const middle = Math.min(Math.max(x((first[0] + first[1]) / 2), layout.left + 40), layout.right - 40);
  return <Words x={middle} y={main.y0 + 5} class="m halo">{`${age(gapLength(trace))} lost`}</Words>;
}

function TimeAxis({ trace, layout, slim }: { trace: Trace; layout: Layout; slim: boolean }): JSX.Element {
  const span_ms = trace.span_s * 1000;
  const marks = ticks(span_ms, slim ? 6 : 8);
  const x = (ms: number): number => layout.left + (ms / span_ms) * (layout.right - layout.left);
  const last = marks.length - 1;
  return (
    <>
      {marks.map((ms, k) => (
        <g key={k}>
          <line class="hair" x1={x(ms)} x2={x(ms)} y1={layout.axisY - 4} y2={layout.axisY + 1} />
          <Words x={x(ms)} y={layout.axisY + 17} class={k === 0 ? "n" : k === last ? "n e" : "n m"}>
            {k === last ? withUnit(String(ms), "ms") : String(ms)}
          </Words>
        </g>
      ))}
    </>
  );
}
