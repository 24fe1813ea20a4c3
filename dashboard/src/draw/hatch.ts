/** Textures on canvas: lines for what is cut away or flows back, reverse lines for no samples, dots for coasting. */
import { token } from "./theme";

export type Texture = "hatch" | "gap" | "dots";

const SIDE = 24; // CSS pixels; holds whole periods of every texture, so that it repeats without a seam

/** A texture as fill, drawn for `scale` device pixels to a pixel. Cheap: one small canvas. */
export function texture(pen: CanvasRenderingContext2D, kind: Texture, scale: number): CanvasPattern | string {
  const side = Math.round(SIDE * scale);
  const tile = new OffscreenCanvas(side, side);
  const on = tile.getContext("2d");
  if (!on) return token("tint");
  on.scale(side / SIDE, side / SIDE);
  if (kind === "dots") dots(on);
  else lines(on, kind);
  const pattern = pen.createPattern(tile as unknown as HTMLCanvasElement, "repeat");
  pattern?.setTransform(new DOMMatrix().scale(SIDE / side));
  return pattern ?? token("tint");
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
