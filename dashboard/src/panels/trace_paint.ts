/** The lines of the drawing of voltage and current, on canvas: as many times a second as pictures come. */
import { type Columns, thin } from "../core/columns";
import type { Line, Trace } from "../core/picture";
import type { Pen, Size } from "../draw/drawing";
import { type Place, below, envelope } from "../draw/envelope";
import { type Ends, type Layout, type RowPlace, layoutOf, placeOf } from "./trace_layout";

const ROLES = ["voltage", "other", "current"] as const; // the heavy line last, on top
const WEIGHT = { voltage: 1.5, current: 3, other: 1.5 };
const THIN_WEIGHT = { voltage: 1.25, current: 2, other: 1.25 };

export function paintTrace(pen: Pen, size: Size, trace: Trace, ends: Ends): void {
  const layout = layoutOf(trace, size, ends.oneSided);
  const x = (seconds: number): number => layout.left + (seconds / trace.span_s) * (layout.right - layout.left);
  for (const place of layout.rows) paintRow(pen, layout, place, ends);
  if (layout.power && trace.power) paintPower(pen, layout, trace, ends.power);
  for (const [from, to] of trace.gaps) paintGap(pen, layout, x(from), x(to));
}

function zeroLine(pen: Pen, layout: Layout, y: number): void {
  const { canvas } = pen;
  canvas.strokeStyle = pen.color("rule-strong");
  canvas.lineWidth = 1;
  canvas.beginPath();
  canvas.moveTo(layout.left, y);
  canvas.lineTo(layout.right, y);
  canvas.stroke();
}

function paintRow(pen: Pen, layout: Layout, { row, y0, half }: RowPlace, ends: Ends): void {
  const main = row.name === "";
  zeroLine(pen, layout, y0);
  for (const role of ROLES) {
    const line = row[role];
    if (!line) continue;
    const end = ends.end(role, main);
    if (line.clipped) paintRange(pen, layout, line, y0, half / end);
    const columns = thin(line, Math.ceil((layout.right - layout.left) * devicePixelRatio));
    pen.canvas.strokeStyle = pen.color(role === "other" ? "ink" : role);
    stroke(pen, columns, placeOf(layout, columns.low.length, y0, half, end), (main ? WEIGHT : THIN_WEIGHT)[role]);
  }
}

/** Bevelled joins: on a line of so many points they look like round ones and cost half. */
function stroke({ canvas }: Pen, columns: Columns, place: Place, weight: number): void {
  canvas.lineWidth = weight;
  canvas.lineJoin = "bevel";
  canvas.beginPath();
  envelope(canvas, columns, place, weight);
  canvas.stroke();
}

/** Chain lines at the ends of the range: what is beyond was cut off. */
function paintRange(pen: Pen, layout: Layout, line: Line, y0: number, ky: number): void {
  const { canvas } = pen;
  canvas.save();
  canvas.strokeStyle = pen.color("ink");
  canvas.lineWidth = 1.25;
  canvas.setLineDash([10, 3, 2, 3]);
  canvas.beginPath();
  for (const end of line.range) {
    canvas.moveTo(layout.left, y0 - end * ky);
    canvas.lineTo(layout.right, y0 - end * ky);
  }
  canvas.stroke();
  canvas.restore();
}

function paintPower(pen: Pen, layout: Layout, trace: Trace, end: number): void {
  const { power } = trace;
  if (!layout.power || !power) return;
  const { y0, half } = layout.power;
  const columns = thin(power, Math.ceil((layout.right - layout.left) * devicePixelRatio));
  const place = placeOf(layout, columns.low.length, y0, half, end);
  const { canvas } = pen;
  canvas.beginPath();
  below(canvas, columns, place);
  canvas.fillStyle = pen.texture("hatch");
  canvas.fill();
  zeroLine(pen, layout, y0);
  canvas.strokeStyle = pen.color("power");
  stroke(pen, columns, place, 1.5);
}

/** Reverse hatching where samples are missing; never a line across. */
function paintGap(pen: Pen, layout: Layout, from: number, to: number): void {
  const { canvas } = pen;
  canvas.fillStyle = pen.texture("gap");
  const width = Math.max(2, to - from);
  for (const { top, foot } of layout.rows) canvas.fillRect(from, top - 4, width, foot - top + 8);
  if (layout.power) canvas.fillRect(from, layout.power.y0 - layout.power.half, width, 1.5 * layout.power.half);
}
