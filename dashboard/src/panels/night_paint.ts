/** Bands, lines, limits, holes and the ribbon of a night, on canvas. */
import type { Band, Hole, Spell, Trends } from "../core/night";
import { roleOf } from "../core/night_readings";
import type { Pen } from "../draw/drawing";
import { paintState } from "../draw/ribbon";
import type { NightLayout, StripPlace } from "./night_layout";

const TRUSTED = 0.5; // of less than half of a column the line is broken
const BAND_ALPHA = 0.3;
const SPIKE = 2; // times as high as what is beside it
const SPIKE_ALPHA = 0.8;
const BRIDGE_S = 30; // a slow channel is a line all the same; a longer pause, or one that is a hole, stays open
const HOLE_PX = 3; // so wide at least: a short hole must be seen in a month

export function paintNight(pen: Pen, layout: NightLayout, trends: Trends, holes: readonly Hole[], spells: readonly Spell[], midnights: readonly number[]): void {
  const { canvas } = pen;
  rules(pen, layout, midnights);
  canvas.save();
  canvas.beginPath();
  canvas.rect(layout.left - 1, 0, layout.right - layout.left + 2, layout.axisY);
  canvas.clip();
  for (const strip of layout.strips) {
    const band = trends.readings[strip.id];
    if (band && strip.reached) paintStrip(pen, layout, strip, band, trends, holes);
  }
  for (const { state, from_utc_s, to_utc_s } of spells) paintState(pen, layout.ribbonY, state, layout.x(from_utc_s), layout.x(to_utc_s));
  canvas.fillStyle = pen.texture("gap");
  for (const hole of holes) {
    const [from, to] = [layout.x(hole.from_utc_s), layout.x(hole.to_utc_s)];
    canvas.fillRect(from, layout.top - 2, Math.max(HOLE_PX, to - from), layout.ribbonY - layout.top + 22);
  }
  canvas.restore();
}

/** Faint lines between strips and at local midnight. */
function rules(pen: Pen, layout: NightLayout, midnights: readonly number[]): void {
  const { canvas } = pen;
  canvas.strokeStyle = pen.color("rule");
  canvas.lineWidth = 1;
  canvas.beginPath();
  for (const { top } of layout.strips.slice(1)) {
    canvas.moveTo(0, Math.round(top) + 0.5);
    canvas.lineTo(layout.width, Math.round(top) + 0.5);
  }
  for (const utc_s of midnights) {
    const x = Math.round(layout.x(utc_s)) + 0.5;
    if (x < layout.left || x > layout.right) continue;
    canvas.moveTo(x, layout.top);
    canvas.lineTo(x, layout.ribbonY);
  }
  canvas.stroke();
}

function paintStrip(pen: Pen, layout: NightLayout, strip: StripPlace, band: Band, trends: Trends, holes: readonly Hole[]): void {
  const { canvas } = pen;
  const step_s = (trends.to_utc_s - trends.from_utc_s) / trends.columns;
  const x = (k: number): number => layout.x(trends.from_utc_s + k * step_s);
  const color = pen.color(roleOf(strip.id));
  canvas.fillStyle = color;
  canvas.globalAlpha = BAND_ALPHA;
  canvas.beginPath();
  for (const [from, to] of stretches(band.low)) bandPath(canvas, band, from, to, x, strip.y);
  canvas.fill();
  canvas.strokeStyle = color;
  canvas.lineJoin = "round";
  canvas.globalAlpha = SPIKE_ALPHA;
  canvas.lineWidth = 1.4;
  canvas.beginPath();
  for (const k of spikes(band)) {
    canvas.moveTo(x(k + 0.5), strip.y(band.low[k]!));
    canvas.lineTo(x(k + 0.5), strip.y(band.high[k]!));
  }
  canvas.stroke();
  canvas.globalAlpha = 1;
  const at_s = (k: number): number => trends.from_utc_s + k * step_s;
  const goesOn = (one: number, other: number): boolean =>
    other === one + 1 || (at_s(other) - at_s(one) <= BRIDGE_S && !holes.some((hole) => hole.from_utc_s < at_s(other) && hole.to_utc_s > at_s(one + 1)));
  for (const doubtful of [false, true]) {
    canvas.lineWidth = doubtful ? 1.2 : 1.8;
    canvas.setLineDash(doubtful ? [2, 3] : []);
    canvas.beginPath();
    meanPath(canvas, band, x, strip.y, (k) => band.trusted[k]! < TRUSTED === doubtful, goesOn);
    canvas.stroke();
  }
  canvas.setLineDash([10, 3, 2, 3]);
  canvas.strokeStyle = pen.color("ink");
  canvas.lineWidth = 1.2;
  canvas.beginPath();
  for (const limit of strip.scale.limits) {
    canvas.moveTo(layout.left, strip.y(limit));
    canvas.lineTo(layout.right, strip.y(limit));
  }
  canvas.stroke();
  canvas.setLineDash([]);
}

/** Columns that have values, from and to (excluded). */
export function stretches(values: Float32Array): (readonly [number, number])[] {
  const found: (readonly [number, number])[] = [];
  let from = -1;
  for (let k = 0; k <= values.length; k += 1) {
    const there = k < values.length && !Number.isNaN(values[k]!);
    if (there && from < 0) from = k;
    if (there || from < 0) continue;
    found.push([from, k]);
    from = -1;
  }
  return found;
}

/** From lowest to highest of each column, half a pixel thick at least, so that a spike of one column is a mark. */
function bandPath(pen: CanvasPath, { low, high }: Band, from: number, to: number, x: (k: number) => number, y: (value: number) => number): void {
  pen.moveTo(x(from), y(high[from]!) - 0.25);
  for (let k = from; k < to; k += 1) {
    pen.lineTo(x(k), y(high[k]!) - 0.25);
    pen.lineTo(x(k + 1), y(high[k]!) - 0.25);
  }
  for (let k = to - 1; k >= from; k -= 1) {
    pen.lineTo(x(k + 1), y(low[k]!) + 0.25);
    pen.lineTo(x(k), y(low[k]!) + 0.25);
  }
  pen.closePath();
}

/** Columns that reach much further than those beside them: too thin to be seen as a band. */
export function spikes({ low, high }: Pick<Band, "low" | "high">): number[] {
  const size = (k: number): number => (high[k] ?? NaN) - (low[k] ?? NaN);
  return Array.from(low.keys()).filter((k) => size(k) > SPIKE * Math.min(size(k - 2), size(k + 2)));
}

/** Through the middles of those columns that are wanted; a single one is a dash. `goesOn`: whether two are joined. */
function meanPath(
  pen: CanvasPath, { mean }: Band, x: (k: number) => number, y: (value: number) => number, wanted: (k: number) => boolean, goesOn: (one: number, other: number) => boolean,
): void {
  const there = Array.from(mean.keys()).filter((k) => !Number.isNaN(mean[k]!) && wanted(k));
  there.forEach((k, place) => {
    const before = there[place - 1];
    const joined = before !== undefined && goesOn(before, k);
    const next = there[place + 1];
    if (joined) pen.lineTo(x(k + 0.5), y(mean[k]!));
    else pen.moveTo(x(k), y(mean[k]!));
    if (!joined || next === undefined || !goesOn(k, next)) pen.lineTo(x(k + (joined ? 1 : 0.5)), y(mean[k]!));
  });
}
