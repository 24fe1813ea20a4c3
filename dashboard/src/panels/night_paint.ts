/** Bands, lines, limits, holes and the ribbon of a night, on canvas. */
import type { Band, Hole, Spell, Trends } from "../core/night";
import { TRUSTED, roleOf } from "../core/night_readings";
import type { Pen } from "../draw/drawing";
import { paintState } from "../draw/ribbon";
import { Sparse } from "../draw/sparse";
import type { NightLayout, StripPlace } from "./night_layout";

const BAND_ALPHA = 0.3;
const MANY = 8; // strips: of more the lines are hairlines, which are drawn seven times as fast (measured without a graphics card)
const SPIKE = 2; // times as high as what is beside it
const SPIKE_ALPHA = 0.8;
const BRIDGE_S = 30; // a slow channel is a line all the same; a longer pause, or one that is a hole, stays open
const HOLE_PX = 3; // so wide at least: a short hole must be seen in a month

export function paintNight(pen: Pen, layout: NightLayout, trends: Trends, holes: readonly Hole[], spells: readonly Spell[], midnights: readonly number[]): void {
  const { canvas } = pen;
  const reached = layout.strips.flatMap((strip) => {
    const band = trends.readings[strip.id];
    return band && strip.reached ? [{ strip, ...cropped(band, trends, layout) }] : [];
  });
  for (const { strip, band, at_s } of reached) paintBand(pen, layout, strip, band, (k) => inside(layout, at_s(k)));
  rules(pen, layout, midnights);
  for (const { strip, band, at_s } of reached) paintStrip(pen, layout, strip, band, at_s, holes);
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

interface Seen {
  readonly band: Band;
  readonly at_s: (k: number) => number; // where a column begins
}

/** The part of the columns that is seen. */
function cropped(band: Band, trends: Trends, { seen }: NightLayout): Seen {
  const step_s = (trends.to_utc_s - trends.from_utc_s) / trends.columns;
  const place = (utc_s: number): number => Math.min(Math.max((utc_s - trends.from_utc_s) / step_s, 0), trends.columns);
  const [from, to] = [Math.floor(place(seen.from_utc_s)), Math.ceil(place(seen.to_utc_s))];
  const part = (values: Float32Array): Float32Array => values.subarray(from, to);
  return {
    band: { low: part(band.low), high: part(band.high), mean: part(band.mean), trusted: part(band.trusted), bound: band.bound },
    at_s: (k) => trends.from_utc_s + (from + k) * step_s,
  };
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

function paintStrip(pen: Pen, layout: NightLayout, strip: StripPlace, band: Band, at_s: Seen["at_s"], holes: readonly Hole[]): void {
  const { canvas } = pen;
  const x = (k: number): number => inside(layout, at_s(k));
  canvas.strokeStyle = pen.color(roleOf(strip.id));
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
 * From lowest to highest of each column, a pixel thick at least. Set pixel by pixel in one picture a strip: of forty
 * readings with a rectangle each column it took ten times as long, and one path a reading longer than that.
 */
function paintBand(pen: Pen, { left, right }: NightLayout, strip: StripPlace, { low, high }: Band, x: (k: number) => number): void {
  const { canvas, scale } = pen;
  const [fromX, fromY] = [Math.round(left * scale), Math.floor(strip.top * scale)];
  const image = canvas.createImageData(Math.max(Math.round(right * scale) - fromX, 1), Math.ceil(strip.height * scale));
  const [pixels, { width, height }] = [new Uint32Array(image.data.buffer), image]; // its own sides cost a call each time
  const pixel = tinted(canvas, pen.color(roleOf(strip.id)));
  const thick = Math.round(scale);
  for (let k = 0; k < low.length; k += 1) {
    if (Number.isNaN(low[k]!)) continue;
    const start = Math.round(x(k) * scale) - fromX;
    const end = Math.min(Math.max(Math.round(x(k + 1) * scale) - fromX, start + thick), width);
    const top = Math.max(Math.floor(strip.y(high[k]!) * scale) - fromY, 0);
    const foot = Math.min(Math.max(Math.ceil(strip.y(low[k]!) * scale) - fromY, top + thick), height);
    for (let row = top; row < foot; row += 1) {
      for (let at = row * width + start; at < row * width + end; at += 1) pixels[at] = pixel;
    }
  }
  canvas.putImageData(image, fromX, fromY);
}

/** A colour as a faint pixel of an image: its bytes in their order in memory, whatever the machine's is. */
function tinted(canvas: CanvasRenderingContext2D, color: string): number {
  canvas.fillStyle = color;
  const [red, green, blue] = [1, 3, 5].map((at) => parseInt(String(canvas.fillStyle).slice(at, at + 2), 16)); // a canvas tells it as #rrggbb
  return new Uint32Array(Uint8Array.of(red!, green!, blue!, Math.round(255 * BAND_ALPHA)).buffer)[0]!;
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
