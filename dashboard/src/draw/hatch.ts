/** Textures on canvas: lines for what is cut away or flows back, reverse lines for no samples, dots for coasting. */
import { epoch, token } from "./theme";

export type Texture = "hatch" | "gap" | "dots";

const SIDE = 24; // CSS pixels; holds whole periods of every texture, so that it repeats without a seam

let tiles = new Map<string, OffscreenCanvas>();
let tilesOf = -1;

/** A texture as fill, drawn for `scale` device pixels to a pixel. Tiles are kept until the theme changes. */
export function texture(pen: CanvasRenderingContext2D, kind: Texture, scale: number): CanvasPattern | string {
  if (tilesOf !== epoch.peek()) [tiles, tilesOf] = [new Map(), epoch.peek()];
  const key = `${kind} ${scale}`;
  const tile = tiles.get(key) ?? draw(kind, Math.round(SIDE * scale));
  tiles.set(key, tile);
  const pattern = pen.createPattern(tile as unknown as HTMLCanvasElement, "repeat");
  pattern?.setTransform(new DOMMatrix().scale(SIDE / tile.width));
  return pattern ?? token("tint");
}

function draw(kind: Texture, side: number): OffscreenCanvas {
  const tile = new OffscreenCanvas(side, side);
  const on = tile.getContext("2d");
  if (!on) return tile;
  on.scale(side / SIDE, side / SIDE);
  if (kind === "dots") dots(on);
  else lines(on, kind);
  return tile;
}

function lines(on: OffscreenCanvasRenderingContext2D, kind: Texture): void {
  const reverse = kind === "gap";
  if (reverse) {
    on.fillStyle = token("paper");
    on.fillRect(0, 0, SIDE, SIDE);
  }
  on.strokeStyle = reverse ? token("rule-strong") : token("ink");
  on.lineWidth = reverse ? 1.1 : 1.3;
  on.beginPath();
  for (let at = -SIDE; at <= 2 * SIDE; at += 8) {
    on.moveTo(at, reverse ? 0 : SIDE);
    on.lineTo(at + SIDE, reverse ? SIDE : 0);
  }
  on.stroke();
}

function dots(on: OffscreenCanvasRenderingContext2D): void {
  on.fillStyle = token("ink-2");
  for (let x = 4; x < SIDE; x += 8) {
    for (let y = 4; y < SIDE; y += 8) on.fillRect(x - 1, y - 1, 2, 2);
  }
}
