/** The ribbon of run states below a time axis. */
import type { Pen } from "./drawing";

export const RIBBON = 18; // its height

/** Texture by state, so that the ribbon reads without colour; only a stall is a block that is so now. */
export function paintState(pen: Pen, y: number, state: string, from: number, to: number): void {
  const { canvas } = pen;
  const [x, width] = [from, to - from];
  if (width <= 0) return;
  const fill = { starting: pen.texture("hatch"), coasting: pen.texture("dots"), running: pen.color("tint"), stalled: pen.color("alarm") }[state];
  if (fill) {
    canvas.fillStyle = fill;
    canvas.fillRect(x, y, width, RIBBON);
  }
  canvas.save();
  canvas.strokeStyle = pen.color(state === "starting" || state === "stalled" ? "ink" : "rule-strong");
  canvas.lineWidth = 1;
  if (state === "unknown") canvas.setLineDash([4, 3]);
  if (width > 1) canvas.strokeRect(x + 0.5, y + 0.5, width - 1, RIBBON - 1);
  canvas.restore();
}
