/**
 * The line through columns of lowest and highest sample: one path, no peak lost, nothing drawn where
 * there is no value. As few points as show the same, because a stroke costs by its points: a column that
 * the pen covers anyway is one point in its middle, one that goes on where the last one ended is one
 * point at its far end, one that turns inside itself is two; and what lies on a straight line is left out.
 */
import type { Columns } from "../core/columns";
import { Sparse } from "./sparse";

/** Where data lies on the drawing: x of column 0 and width of a column, y of zero and pixels a unit (up). */
export interface Place {
  readonly x0: number;
  readonly dx: number;
  readonly y0: number;
  readonly ky: number;
}

/** `weight` is the width of the pen in pixels. */
export function envelope(path: CanvasPath, { low, high }: Columns, { x0, dx, y0, ky }: Place, weight: number): void {
  const pen = new Sparse(path);
  const covered = weight / ky;
  let end = NaN;
  for (let k = 0; k < low.length; k++) {
    const lowest = low[k]!;
    const highest = high[k]!;
    const x = x0 + (k + 0.5) * dx;
    if (lowest !== lowest || highest !== highest) {
      end = NaN;
    } else if (end !== end) {
      pen.moveTo(x, y0 - lowest * ky);
      if (highest > lowest) pen.lineTo(x, y0 - highest * ky);
      end = highest;
    } else if (highest - lowest <= covered) {
      end = (lowest + highest) / 2;
      pen.lineTo(x, y0 - end * ky);
    } else if (end <= lowest) {
      pen.lineTo(x + dx / 2, y0 - highest * ky); // a slope reaches its far end where the column ends
      end = highest;
    } else if (end >= highest) {
      pen.lineTo(x + dx / 2, y0 - lowest * ky);
      end = lowest;
    } else {
      const near = end - lowest < highest - end ? lowest : highest;
      end = near === lowest ? highest : lowest;
      pen.lineTo(x, y0 - near * ky);
      pen.lineTo(x, y0 - end * ky);
    }
  }
  pen.end();
}

/** The area between zero and the lower edge of the columns, for hatching what is below zero. */
export function below(pen: CanvasPath, { low, high }: Columns, { x0, dx, y0, ky }: Place): void {
  for (let k = 0; k < low.length; k++) {
    const depth = Math.min(0, (low[k]! + high[k]!) / 2);
    if (depth < 0) pen.rect(x0 + k * dx, y0, dx * 1.02, -depth * ky); // a hair wider: no seams
  }
}

/** A line through points (t, value) on given places; steps hold each value until the next point. */
export function polyline(
  pen: CanvasPath,
  t: Float32Array,
  values: Float32Array,
  x: (t: number) => number,
  y: (value: number) => number,
  steps = false,
): void {
  let up = true;
  for (let k = 0; k < t.length; k++) {
    const value = values[k]!;
    if (value !== value) {
      up = true;
      continue;
    }
    if (up) pen.moveTo(x(t[k]!), y(value));
    else {
      if (steps) pen.lineTo(x(t[k]!), y(values[k - 1]!));
      pen.lineTo(x(t[k]!), y(value));
    }
    up = false;
  }
}
