/** Bands, lines, limits, holes and the ribbon of a night, on canvas. */
import type { Band, Hole, Spell, Trends } from "../core/night";
import { roleOf } from "../core/night_readings";
import type { Pen } from "../draw/drawing";
import { paintState } from "../draw/ribbon";
import { Sparse } from "../draw/sparse";
import type { NightLayout, StripPlace } from "./night_layout";

const TRUSTED = 0.5; // of less than half of a column the line is broken
const BAND_ALPHA = 0.3;
const MANY = 8; // strips: of more the lines are hairlines, which are drawn seven times as fast (measured without a graphics card)
const SPIKE = 2; // times as high as what is beside it
const SPIKE_ALPHA = 0.8;
const BRIDGE_S = 30; // a slow channel is a line all the same; a longer pause, or one that is a hole, stays open
const HOLE_PX = 3; // so wide at least: a short hole must be seen in a month

export function paintNight(pen: Pen, layout: NightLayout, trends: Trends, holes: readonly Hole[], spells: readonly Spell[], midnights: readonly number[]): void {
  const { canvas } = pen;
  rules(pen, layout, midnights);
  for (const strip of layout.strips) {
    const band = trends.readings[strip.id];
    if (band && strip.reached) paintStrip(pen, layout, strip, band, trends, holes);
  }
  for (const { state, from_utc_s, to_utc_s } of spells) paintState(pen, layout.ribbonY, state, inside(layout, from_utc_s), inside(layout, to_utc_s));
  canvas.fillStyle = pen.texture("gap");
  for (const hole of holes) {
    const [from, to] = [inside(layout, hole.from_utc_s), inside(layout, hole.to_utc_s)];
    if (layout.x(hole.to_utc_s) < layout.left || layout.x(hole.from_utc_s) > layout.right) continue;
    canvas.fillRect(from, layout.top - 2, Math.max(HOLE_PX, to - from), layout.ribbonY - layout.top + 22);
  }
}

/** Where a moment lies, no further out than the drawing reaches: to clip lines costs more than to draw them. */
function inside({ x, left, right }: NightLayout, utc_s: number): number {
  return Math.min(Math.max(x(utc_s), left), right);
}

/** The part of the columns that is seen. */
function cropped(band: Band, trends: Trends, { seen }: NightLayout): { readonly band: Band; readonly from_utc_s: number } {
  const step_s = (trends.to_utc_s - trends.from_utc_s) / trends.columns;
  const place = (utc_s: number): number => Math.min(Math.max((utc_s - trends.from_utc_s) / step_s, 0), trends.columns);
  const [from, to] = [Math.floor(place(seen.from_utc_s)), Math.ceil(place(seen.to_utc_s))];
  const part = (values: Float32Array): Float32Array => values.subarray(from, to);
  return { band: { low: part(band.low), high: part(band.high), mean: part(band.mean), trusted: part(band.trusted) }, from_utc_s: trends.from_utc_s + from * step_s };
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

function paintStrip(pen: Pen, layout: NightLayout, strip: StripPlace, whole: Band, trends: Trends, holes: readonly Hole[]): void {
  const { canvas } = pen;
  const step_s = (trends.to_utc_s - trends.from_utc_s) / trends.columns;
  const { band, from_utc_s } = cropped(whole, trends, layout);
  const at_s = (k: number): number => from_utc_s + k * step_s;
  const x = (k: number): number => inside(layout, at_s(k));
  const color = pen.color(roleOf(strip.id));
  canvas.fillStyle = color;
  canvas.globalAlpha = BAND_ALPHA;
  fillBand(canvas, band, x, strip.y);
  canvas.strokeStyle = color;
  canvas.lineJoin = "bevel";
  canvas.globalAlpha = SPIKE_ALPHA;
  canvas.lineWidth = 1.4;
  canvas.beginPath();
  for (const k of spikes(band)) {
    canvas.moveTo(x(k + 0.5), strip.y(band.low[k]!));
    canvas.lineTo(x(k + 0.5), strip.y(band.high[k]!));
  }
  canvas.stroke();
  canvas.globalAlpha = 1;
  const goesOn = (one: number, other: number): boolean =>
    other === one + 1 || (at_s(other) - at_s(one) <= BRIDGE_S && !holes.some((hole) => hole.from_utc_s < at_s(other) && hole.to_utc_s > at_s(one + 1)));
  const doubts = band.trusted.some((share) => share < TRUSTED);
  for (const doubtful of doubts ? [false, true] : [false]) {
    const many = layout.strips.length > MANY;
    canvas.lineWidth = many ? 1 : doubtful ? 1.2 : 1.8;
    canvas.globalAlpha = many && doubtful ? 0.5 : 1;
    canvas.setLineDash(doubtful && !many ? [2, 3] : []);
    canvas.beginPath();
    meanPath(canvas, band, x, strip.y, (k) => band.trusted[k]! < TRUSTED === doubtful, goesOn);
    canvas.stroke();
  }
  canvas.globalAlpha = 1;
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

/**
 * From lowest to highest of each column, a pixel thick at least. Rectangles between whole pixels, as wide as columns are alike:
 * of forty readings one path each takes many times as long to fill.
 */
function fillBand(canvas: CanvasRenderingContext2D, { low, high }: Band, x: (k: number) => number, y: (value: number) => number): void {
  const edges = (k: number): readonly [number, number] => {
    const top = Math.floor(y(high[k]!));
    return [top, Math.max(Math.ceil(y(low[k]!)), top + 1)];
  };
  for (let k = 0, next = 1; k < low.length; k = next, next += 1) {
    if (Number.isNaN(low[k]!)) continue;
    const [top, foot] = edges(k);
    while (next < low.length && edges(next)[0] === top && edges(next)[1] === foot) next += 1; // NaN is not alike
    const from = Math.round(x(k));
    canvas.fillRect(from, top, Math.max(1, Math.round(x(next)) - from), foot - top);
  }
}

/** Columns that reach much further than those beside them: too thin to be seen as a band. */
export function spikes({ low, high }: Pick<Band, "low" | "high">): number[] {
  const size = (k: number): number => (high[k] ?? NaN) - (low[k] ?? NaN);
  return Array.from(low.keys()).filter((k) => size(k) > SPIKE * Math.min(size(k - 2), size(k + 2)));
}

/** Through the middles of those columns that are wanted; a single one is a dash. `goesOn`: whether two are joined, with none that has a value between. */
export function meanPath(
  path: CanvasPath, { mean }: Band, x: (k: number) => number, y: (value: number) => number, wanted: (k: number) => boolean, goesOn: (one: number, other: number) => boolean,
): void {
  const pen = new Sparse(path);
  let before = -1;
  for (let k = 0; k < mean.length; k += 1) {
    if (Number.isNaN(mean[k]!)) continue;
    if (!wanted(k)) {
      if (before >= 0) pen.lineTo(x(before + 1), y(mean[before]!));
      before = -1;
      continue;
    }
    if (before < 0 || !goesOn(before, k)) {
      if (before >= 0) pen.lineTo(x(before + 1), y(mean[before]!));
      pen.moveTo(x(k), y(mean[k]!));
    }
    pen.lineTo(x(k + 0.5), y(mean[k]!));
    before = k;
  }
  if (before >= 0) pen.lineTo(x(before + 1), y(mean[before]!));
  pen.end();
}
