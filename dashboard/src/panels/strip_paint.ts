/** Lines, bands and the state ribbon of the strip since the start, on canvas. */
import type { Strip } from "../core/picture";
import type { Pen } from "../draw/drawing";
import { polyline } from "../draw/envelope";
import { RIBBON, paintState } from "../draw/ribbon";
import type { StripLayout } from "./strip_layout";

/** `limits`: where a person's limits lie. */
export function paintStrip(pen: Pen, strip: Strip, layout: StripLayout, limits: readonly number[]): void {
  const { canvas } = pen;
  rule(pen, layout.left, layout.right, layout.speedY(0), "rule-strong");
  rule(pen, layout.left, layout.right, layout.currentY(0), "rule-strong");
  if (strip.synchronous_speed_rpm !== null) limit(pen, layout, layout.speedY(strip.synchronous_speed_rpm));
  for (const y of limits) limit(pen, layout, y);
  paintCurve(pen, strip, layout, "speed", layout.speedY);
  paintCurve(pen, strip, layout, "current", layout.currentY);
  for (const [from, to] of strip.gaps) {
    canvas.fillStyle = pen.texture("gap");
    canvas.fillRect(layout.x(from), layout.top - 8, Math.max(2, layout.x(to) - layout.x(from)), layout.currentY(0) - layout.top + 10);
  }
  paintSplit(pen, layout);
  for (const { state, from_s, to_s } of strip.states) paintState(pen, layout.ribbonY, state, layout.x(from_s), layout.x(to_s));
}

function paintCurve(pen: Pen, strip: Strip, layout: StripLayout, role: "speed" | "current", y: (value: number) => number): void {
  const { canvas } = pen;
  const { wide, rest } = strip;
  canvas.strokeStyle = pen.color(role);
  canvas.lineWidth = role === "speed" ? 2.25 : 3;
  canvas.lineJoin = "round";
  canvas.beginPath();
  polyline(canvas, wide.t, wide[role], layout.x, y, role === "current");
  canvas.stroke();
  const [low, high] = role === "speed" ? [rest.speed_low, rest.speed_high] : [rest.current_low, rest.current_high];
  canvas.beginPath();
  polyline(canvas, rest.t, high, layout.x, y);
  polyline(canvas, rest.t, low, layout.x, y);
  uprights(canvas, rest.t, low, high, layout.x, y);
  canvas.stroke();
}

/** Strokes from lowest to highest, so that a band is filled and a short dip is seen. */
function uprights(
  pen: CanvasPath,
  t: Float32Array,
  low: Float32Array,
  high: Float32Array,
  x: (t: number) => number,
  y: (value: number) => number,
): void {
  for (let k = 0; k < t.length; k++) {
    if (!(high[k]! > low[k]!)) continue;
    pen.moveTo(x(t[k]!), y(low[k]!));
    pen.lineTo(x(t[k]!), y(high[k]!));
  }
}

function rule(pen: Pen, from: number, to: number, y: number, role: string): void {
  pen.canvas.strokeStyle = pen.color(role);
  pen.canvas.lineWidth = 1;
  pen.canvas.beginPath();
  pen.canvas.moveTo(from, y);
  pen.canvas.lineTo(to, y);
  pen.canvas.stroke();
}

/** A limit is a chain line. */
function limit(pen: Pen, layout: StripLayout, y: number): void {
  pen.canvas.save();
  pen.canvas.setLineDash([10, 3, 2, 3]);
  rule(pen, layout.left, layout.right, y, "ink");
  pen.canvas.restore();
}

function paintSplit(pen: Pen, layout: StripLayout): void {
  pen.canvas.strokeStyle = pen.color("rule-strong");
  pen.canvas.lineWidth = 1;
  pen.canvas.beginPath();
  for (const x of [layout.split - 3, layout.split + 3]) {
    pen.canvas.moveTo(x, layout.top - 6);
    pen.canvas.lineTo(x, layout.ribbonY + RIBBON + 2);
  }
  pen.canvas.stroke();
}
