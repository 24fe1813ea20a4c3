/** A run from end to end: its current as a band, its events as dots, its gaps hatched, and where it is played. */
import type { JSX } from "preact";
import type { Happened } from "../core/picture";
import type { Overview, Start } from "../core/runs";

export const STRIP_HEIGHT = 58;
const FLOOR = 42; // of the band
const ROOM = 34; // above it

interface Props {
  readonly width: number;
  readonly from_utc_s: number;
  readonly to_utc_s: number;
  readonly overview: Overview | null;
  readonly events: readonly Happened[];
  readonly gaps: readonly (readonly [number, number])[];
}

export function RunStrip({ width, from_utc_s, to_utc_s, overview, events, gaps }: Props): JSX.Element {
  const x = (utc_s: number): number => 1 + placeOf(utc_s, from_utc_s, to_utc_s) * (width - 2);
  return (
    <svg width={width} height={STRIP_HEIGHT} viewBox={`0 0 ${width} ${STRIP_HEIGHT}`} aria-hidden="true">
      {overview && <path class="band" d={band(overview, x)} />}
      {gaps.map(([from, to]) => <rect key={from} class="gap" x={x(from)} width={Math.max(2, x(to) - x(from))} y={FLOOR - ROOM} height={ROOM} />)}
      <line class="hair" x1={0} x2={width} y1={FLOOR} y2={FLOOR} />
      {events.map((event) => <circle key={`${event.utc_s} ${event.text}`} class={event.decisive ? "ink" : "open"} cx={x(event.utc_s)} cy={FLOOR + 9} r={event.decisive ? 4 : 2.5} />)}
    </svg>
  );
}

/** Where in the run a moment lies: 0 its beginning, 1 its end. */
export function placeOf(utc_s: number, from_utc_s: number, to_utc_s: number): number {
  return to_utc_s > from_utc_s ? Math.min(Math.max((utc_s - from_utc_s) / (to_utc_s - from_utc_s), 0), 1) : 0;
}

/** A filled band for each stretch of columns that have values. */
function band({ from_utc_s, column_s, low, high }: Overview, x: (utc_s: number) => number): string {
  const most = Math.max(...high.map((value) => value ?? 0), 1e-9);
  const y = (value: number): number => FLOOR - (Math.max(value, 0) / most) * ROOM;
  const at = (k: number): number => x(from_utc_s + k * column_s);
  const parts: string[] = [];
  for (let k = 0; k < high.length; k += 1) {
    const top = high[k];
    if (top == null || low[k] == null) continue;
    parts.push(`M${at(k).toFixed(1)} ${FLOOR}V${y(top).toFixed(1)}H${at(k + 1).toFixed(1)}V${FLOOR}Z`);
  }
  return parts.join("");
}

/** The current of a start as a small line; `most_a`: what the full height means, the same for all starts of a motor. */
export function StartLine({ start, most_a }: { start: Start; most_a: number }): JSX.Element {
  const [width, height] = [92, 26];
  const step = (width - 4) / (1.2 / start.step_s);
  let pen = "M";
  const path = start.current_a.map((value, k) => {
    if (value === null) {
      pen = "M";
      return "";
    }
    const point = `${pen}${(2 + k * step).toFixed(1)} ${(height - 3 - (Math.max(value, 0) / most_a) * (height - 5)).toFixed(1)}`;
    pen = "L";
    return point;
  }).join("");
  return <svg class="start" width={width} height={height} viewBox={`0 0 ${width} ${height}`} role="img" aria-label={startWords(start)}><path d={path} /></svg>;
}

function startWords({ current_a }: Start): string {
  const known = current_a.filter((value) => value !== null);
  const most = known.length ? Math.max(...known) : 0;
  const last = known[known.length - 1] ?? 0;
  return `start current, highest ${most.toPrecision(3)} A, ${last.toPrecision(3)} A at the end`;
}
