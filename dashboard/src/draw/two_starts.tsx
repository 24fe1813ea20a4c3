/** Two runs laid on each other from one moment on: speed above, current below, thick the newer and thin the older one. */
import type { JSX } from "preact";
import { type Comparison, type Moved, type Side, START, moved } from "../core/compare";
import { number, rough, withUnit } from "../core/format";
import { roundStep, timeUnit } from "../core/ticks";
import { DimensionAcross, Words } from "./dimension";
import type { Size } from "./drawing";

const [LEFT, RIGHT, SLIM] = [78, 96, 8];
const [TOP, FOOT, BETWEEN] = [24, 26, 34];
const LINE = 17; // of words
const SPEED_PART = 0.52; // of the height
const HEADROOM = 1.12; // above the highest current, for the dimension

interface Axes {
  readonly x: (seconds: number) => number;
  readonly speed: (rpm: number) => number;
  readonly current: (amps: number) => number;
  readonly turns: boolean; // one of them has a speed
}

export function TwoStarts({ comparison, size, speedWords }: { comparison: Comparison; size: Size; speedWords: (rpm: number) => string }): JSX.Element {
  const { older, newer } = comparison;
  const axes = axesOf(comparison, size);
  const [left, right] = [axes.x(newer.from_s), axes.x(newer.from_s + newer.step_s * newer.current_a.length)];
  const field_rpm = newer.synchronous_rpm ?? older.synchronous_rpm;
  const found = moved(comparison);
  const [last, last_rpm] = [lastOf(newer.current_a), lastOf(newer.speed_rpm)];
  const [most, most_rpm] = [highest(comparison, "current_a"), highest(comparison, "speed_rpm")];
  return (
    <>
      {axes.turns && field_rpm !== null && <line class="field" x1={left} x2={right} y1={axes.speed(field_rpm)} y2={axes.speed(field_rpm)} />}
      {axes.turns && <line class="hair" x1={left} x2={right} y1={axes.speed(0)} y2={axes.speed(0)} />}
      <line class="hair" x1={left} x2={right} y1={axes.current(0)} y2={axes.current(0)} />
      {comparison.kind !== START && <line class="dim" x1={axes.x(0)} x2={axes.x(0)} y1={TOP - 8} y2={axes.current(0)} />}
      {([[newer, "thick"], [older, "thin"]] as const).map(([side, weight]) => (
        <g key={weight}>
          {axes.turns && <path class={`laid speed ${weight}`} d={line(side.speed_rpm.map((value) => value === null ? null : Math.abs(value)), side, axes.x, axes.speed, false)} />}
          <path class={`laid current ${weight}`} d={line(side.current_a, side, axes.x, axes.current, true)} />
        </g>
      ))}
      {found && <Dimension found={found} newer={newer} axes={axes} size={size} right={right} />}
      {axes.turns && <Words x={size.slim ? right : left - 14} y={axes.speed(0) - (size.slim ? 10 : (axes.speed(0) - TOP) / 2 - 5)} class="e b speed halo">{size.slim ? `speed up to ${speedWords(most_rpm)}` : "speed"}</Words>}
      {axes.turns && !size.slim && <Words x={left - 14} y={axes.speed(0) + 5} class="e n">0</Words>}
      {axes.turns && field_rpm !== null && !size.slim && <Words x={right + 12} y={axes.speed(field_rpm) + 5} class="n">{speedWords(field_rpm)}</Words>}
      {last_rpm !== null && !size.slim && <Words x={right + 12} y={beside(axes.speed(Math.abs(last_rpm)), field_rpm === null ? null : axes.speed(field_rpm)) + 5} class="b speed">{speedWords(Math.abs(last_rpm))}</Words>}
      <Words x={size.slim ? right : left - 14} y={size.slim ? axes.current(0) - 44 : axes.current(0) - 40} class="e b current halo">{size.slim ? `current up to ${rough(most, "A")}` : "current"}</Words>
      {last !== null && !size.slim && <Words x={right + 12} y={Math.min(axes.current(last) + 5, axes.current(0) + 5)} class="b current">{rough(last, "A")}</Words>}
      <TimeAxis newer={newer} axes={axes} size={size} />
    </>
  );
}

/** What happens later or earlier, between the two places, over the current. */
function Dimension({ found, newer, axes, size, right }: { found: Moved; newer: Side; axes: Axes; size: Size; right: number }): JSX.Element {
  const before = newer.current_a[Math.max(0, Math.floor((Math.min(found.older_s, found.newer_s) - newer.from_s) / newer.step_s) - 2)] ?? 0;
  const y = axes.current(before) - 16;
  const end = axes.x(Math.max(found.older_s, found.newer_s));
  const words = size.slim ? found.short : found.words;
  const fits = end + 22 + words.length * 7.4 < right + (size.slim ? 0 : RIGHT);
  return (
    <g>
      <DimensionAcross from={axes.x(found.older_s)} to={axes.x(found.newer_s)} y={y} reachFrom={axes.current(before) - 3} />
      <Words x={fits ? end + 22 : axes.x(Math.min(found.older_s, found.newer_s)) - 22} y={y + 5} class={fits ? "b halo" : "b halo e"}>{words}</Words>
    </g>
  );
}

function TimeAxis({ newer, axes, size }: { newer: Side; axes: Axes; size: Size }): JSX.Element {
  const end_s = newer.from_s + newer.step_s * newer.current_a.length;
  const [unit, length_s] = timeUnit(Math.max(end_s, 1));
  const step = roundStep((end_s - newer.from_s) / (size.slim ? 4 : 6));
  const first = Math.ceil(newer.from_s / step - 1e-9);
  const places = Array.from({ length: Math.floor(end_s / step + 1e-9) - first + 1 }, (_, k) => (first + k) * step);
  const decimals = Math.max(0, -Math.floor(Math.log10(step / length_s) + 1e-9));
  return (
    <g>
      {places.map((at, k) => (
        <Words key={k} x={axes.x(at)} y={size.height - 6} class={k === places.length - 1 ? "n e" : k ? "n m" : "n"}>
          {k === places.length - 1 ? withUnit(number(at / length_s, decimals), unit) : number(at / length_s, at ? decimals : 0)}
        </Words>
      ))}
    </g>
  );
}

/** Words of the newest speed give way to those of the field, which stands above it. */
function beside(y: number, field: number | null): number {
  return field !== null && Math.abs(y - field) < LINE ? field + LINE : y;
}

function axesOf({ older, newer }: Comparison, { width, height, slim }: Size): Axes {
  const [left, right] = slim ? [SLIM, width - SLIM] : [LEFT, width - RIGHT];
  const end_s = newer.from_s + newer.step_s * newer.current_a.length;
  const turns = lastOf([...older.speed_rpm, ...newer.speed_rpm]) !== null;
  const most_rpm = Math.max(1e-9, older.synchronous_rpm ?? 0, newer.synchronous_rpm ?? 0, highest({ older, newer }, "speed_rpm"));
  const most_a = HEADROOM * Math.max(1e-9, highest({ older, newer }, "current_a"));
  const still = turns ? height * SPEED_PART : TOP - BETWEEN;
  const floor = height - FOOT;
  return {
    turns,
    x: (seconds) => left + ((seconds - newer.from_s) / (end_s - newer.from_s)) * (right - left),
    speed: (rpm) => still - (rpm / most_rpm) * (still - TOP),
    current: (amps) => floor - (amps / most_a) * (floor - still - BETWEEN),
  };
}

/** Rows as a line, or as steps; nothing is drawn across rows that did not come. */
function line(values: readonly (number | null)[], { from_s, step_s }: Side, x: (seconds: number) => number, y: (value: number) => number, steps: boolean): string {
  let pen = "M";
  return values.map((value, k) => {
    if (value === null) { pen = "M"; return ""; }
    const at = `${pen}${x(from_s + k * step_s).toFixed(1)} ${y(value).toFixed(1)}`;
    pen = "L";
    return steps ? `${at}H${x(from_s + (k + 1) * step_s).toFixed(1)}` : at;
  }).join("");
}

/** The highest of both, whichever way it turned. */
function highest({ older, newer }: Pick<Comparison, "older" | "newer">, of: "speed_rpm" | "current_a"): number {
  return Math.max(0, ...[...older[of], ...newer[of]].map((value) => Math.abs(value ?? 0)));
}

function lastOf(values: readonly (number | null)[]): number | null {
  return [...values].reverse().find((value) => value !== null) ?? null;
}
