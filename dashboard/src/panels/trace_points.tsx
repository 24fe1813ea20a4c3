/** The two points on the picture, and between them dimensions: across the time, upright the difference of the values. */
import type { JSX } from "preact";
import { number, rough, withUnit } from "../core/format";
import type { KeptLine, KeptTrace } from "../core/kept";
import type { Point } from "../core/points";
import { DimensionAcross, DimensionUpright, Words } from "../draw/dimension";
import type { Size } from "../draw/drawing";
import { measure } from "./measure";
import { type Ends, type Layout, type RowPlace, layoutOf } from "./trace_layout";

/** Where a point stands in the drawing. */
interface Placed {
  readonly x: number;
  readonly y: number;
  readonly line: KeptLine;
  readonly place: RowPlace;
  readonly point: Point;
}

const ROLES = ["voltage", "current", "other"] as const;
const REACH = 12; // px: so near a press is meant for a zero, a peak or a point
const LETTER = 7; // px, of 14 px type
const GAP = 12;
const [UPRIGHT, UPRIGHT_WORDS] = [34, 64]; // from the point that is nearer to it, and room for its words
const ON = " m";
const ON_ROW = 16; // px beyond a row that still belong to it

function heightOf(place: RowPlace, line: KeptLine, ends: Ends): number {
  const role = line.role === "voltage" || line.role === "current" ? line.role : "other";
  return place.half / ends.end(role, place.row.name === "");
}

function linesOf({ row }: RowPlace): KeptLine[] {
  return ROLES.map((role) => row[role] as KeptLine | null).filter((line) => line !== null && line.channel !== undefined) as KeptLine[];
}

function placed(point: Point | null, trace: KeptTrace, layout: Layout, ends: Ends): Placed | null {
  if (!point) return null;
  for (const place of layout.rows) {
    const line = linesOf(place).find(({ channel }) => channel === point.channel);
    if (!line) continue;
    const x = layout.left + ((point.at_s - trace.from_s) / trace.span_s) * (layout.right - layout.left);
    return { x, y: place.y0 - point.value * heightOf(place, line, ends), line, place, point };
  }
  return null;
}

/** Set or free a point where the drawing was pressed: on the line that is nearest there. */
export function pressAt(x: number, y: number, size: Size, ends: Ends): void {
  const trace = measure.trace;
  if (!trace) return;
  const layout = layoutOf(trace, size, ends.oneSided);
  const place = layout.rows.find(({ top, foot }) => y > top - ON_ROW && y < foot + ON_ROW);
  if (!place || x < layout.left - REACH || x > layout.right + REACH) return;
  const perPixel_s = trace.span_s / (layout.right - layout.left);
  const at_s = trace.from_s + Math.min(Math.max((x - layout.left) * perPixel_s, 0), trace.span_s);
  const away = (line: KeptLine): number => {
    const k = Math.min(Math.floor(((at_s - trace.from_s) / trace.span_s) * line.low.length), line.low.length - 1);
    const ky = heightOf(place, line, ends);
    const [top, foot] = [place.y0 - line.high[k]! * ky, place.y0 - line.low[k]! * ky];
    return y < top ? top - y : y > foot ? y - foot : 0;
  };
  const nearest = linesOf(place).sort((a, b) => away(a) - away(b))[0];
  if (nearest) measure.press(nearest.channel!, at_s, REACH * perPixel_s);
}

export function TracePoints({ size, ends }: { size: Size; ends: Ends }): JSX.Element | null {
  const trace = measure.trace;
  if (!trace) return null;
  const layout = layoutOf(trace, size, ends.oneSided);
  const [one, other] = measure.points.value.map((point) => placed(point, trace, layout, ends)) as [Placed | null, Placed | null];
  return (
    <>
      <Moment trace={trace} layout={layout} />
      {one && other && <Dimensions one={one} other={other} layout={layout} size={size} />}
      {[one, other].map((each, k) => each && <Mark key={k} name={`${k + 1}`} at={each} layout={layout} />)}
    </>
  );
}

/** What the picture was kept for. */
function Moment({ trace, layout }: { trace: KeptTrace; layout: Layout }): JSX.Element | null {
  const source = measure.source.value;
  const share = source?.moment_s == null ? -1 : (source.moment_s - trace.from_s) / trace.span_s;
  const main = layout.rows[0];
  if (!source || !main || share < 0 || share > 1) return null;
  const x = layout.left + share * (layout.right - layout.left);
  return <line class="ghost" x1={x} x2={x} y1={main.top - 8} y2={layout.axisY} />;
}

/** A ring where it snapped to something, a cross through it where it is free; outside of the picture nothing is drawn. */
function Mark({ name, at: { x, y, point }, layout }: { name: string; at: Placed; layout: Layout }): JSX.Element | null {
  if (x < layout.left - 1 || x > layout.right + 1) return null;
  return (
    <g class="point">
      <circle class="ring" cx={x} cy={y} r={6} />
      {point.stand === "free" ? <path class="dim" d={`M${x - 6} ${y}H${x + 6}M${x} ${y - 6}V${y + 6}`} /> : <circle class="ink" cx={x} cy={y} r={2.5} />}
      <Words x={x + 9} y={y - 9} class="b halo">{name}</Words>
    </g>
  );
}

interface DimensionsProps {
  readonly one: Placed;
  readonly other: Placed;
  readonly layout: Layout;
  readonly size: Size;
}

function Dimensions({ one, other, layout, size }: DimensionsProps): JSX.Element {
  const found = measure.found.value;
  const clip = (x: number): number => Math.min(Math.max(x, layout.left), layout.right);
  const [from, to] = [clip(one.x), clip(other.x)];
  const same = one.line.unit === other.line.unit && one.place === other.place;
  const right = Math.max(from, to);
  const words = acrossWords(one, other, found?.["angle_deg"]?.value, size.slim);
  const left = Math.min(from, to);
  const names = measure.trace?.cycles == null ? (size.slim ? 60 : 170) : 0; // they stand at the beginning of this row then
  const [text, anchor] = besideOf(left, right, layout, words.length * LETTER, names);
  const before = layout.right - right < UPRIGHT + UPRIGHT_WORDS && left - layout.left > UPRIGHT + UPRIGHT_WORDS;
  const upright = before ? left - UPRIGHT : Math.min(right + UPRIGHT, layout.right - 8);
  const after = !before && layout.right - upright > UPRIGHT_WORDS;
  const difference = other.point.value - one.point.value;
  return (
    <>
      {from !== to && <DimensionAcross from={from} to={to} y={layout.dimensionY} reachFrom={Math.min(one.y, other.y)} />}
      <Words x={text} y={layout.dimensionY + (anchor === ON ? -6 : 5)} class={`b halo${anchor}`}>{words}</Words>
      {same && Math.abs(one.y - other.y) > 1 && (
        <>
          <DimensionUpright from={one.y} to={other.y} x={upright} reachFrom={before ? left : right} />
          <Words x={upright + (after ? 8 : -8)} y={(one.y + other.y) / 2 + 5} class={`b halo ${one.line.role}${after ? "" : " e"}`}>{rough(Math.abs(difference), one.line.unit)}</Words>
        </>
      )}
    </>
  );
}

/** Where the words of a dimension stand: behind it, before it, else on it. */
function besideOf(left: number, right: number, layout: Layout, width: number, names: number): readonly [number, string] {
  if (layout.right - right > width + GAP) return [right + GAP, ""];
  return left - layout.left > names + width + GAP ? [left - GAP, " e"] : [(left + right) / 2, ON];
}

/** "12.35 ms, 80.97 Hz, 222.3°" */
function acrossWords(one: Placed, other: Placed, angle: unknown, slim: boolean): string {
  const seconds = Math.abs(other.point.at_s - one.point.at_s);
  if (!(seconds > 0)) return "";
  const time = withUnit(number(seconds * 1000, seconds < 0.1 ? 3 : 1), "ms");
  const angle_deg = typeof angle === "number" ? withUnit(number(Math.abs(angle), 1), "°") : "";
  const hertz = withUnit(number(1 / seconds, seconds > 0.001 ? 2 : 0), "Hz");
  return [time, slim ? "" : hertz, angle_deg].filter(Boolean).join(", ");
}
