/** Where things lie in the drawing of voltage and current. Pure geometry in pixels of a 16 px root. */
import type { Place } from "../draw/envelope";
import type { Size } from "../draw/drawing";
import { reach } from "../core/columns";
import type { Line, Trace } from "../core/picture";
import { type Row, rowsOf } from "../core/rows";
import { SteadyScale } from "../core/steady";

const EXTRA = 62; // height of each row below the main one
const AXIS = 26;

export interface RowPlace {
  readonly row: Row;
  readonly y0: number;
  readonly half: number; // pixels from zero to the end of the scale
}

export interface Layout {
  readonly left: number;
  readonly right: number; // x of the end of the time axis
  readonly rows: readonly RowPlace[];
  readonly dimensionY: number;
  readonly power: { readonly y0: number; readonly half: number } | null;
  readonly axisY: number;
}

/** Rows and power are told apart by count alone, so the height stands still while the motor runs. */
export interface Shape {
  readonly main: boolean;
  readonly extras: number;
  readonly power: boolean;
}

export function shapeOf(trace: Trace | null): Shape {
  if (!trace) return { main: true, extras: 0, power: true };
  const rows = rowsOf(trace);
  const main = rows[0]?.name === "";
  const both = main && rows[0]?.voltage !== null && rows[0]?.current !== null;
  return { main, extras: rows.length - (main ? 1 : 0), power: both };
}

export function heightOf(shape: Shape, slim: boolean): number {
  const main = shape.main ? (slim ? 246 : 180) : 10;
  return main + (shape.power ? (slim ? 104 : 66) : 0) + shape.extras * EXTRA + AXIS;
}

export function layoutOf(trace: Trace, { width, height, slim }: Size): Layout {
  const shape = shapeOf(trace);
  const [left, right] = slim ? [6, width - 6] : [78, width - 88];
  const [y0, half] = slim ? [120, 92] : [82, 72];
  const dimensionY = y0 + half + (slim ? 26 : 18);
  let below = shape.main ? (slim ? 246 : 180) : 10;
  const power = shape.power ? { y0: below + (slim ? 60 : 34), half: 32 } : null;
  if (power) below += slim ? 104 : 66;
  const all = rowsOf(trace);
  const rows = all.map((row, k): RowPlace => {
    if (shape.main && k === 0) return { row, y0, half };
    const at = below + (k - (shape.main ? 1 : 0)) * EXTRA;
    return { row, y0: at + EXTRA / 2, half: EXTRA / 2 - 6 };
  });
  return { left, right, rows, dimensionY, power, axisY: height - AXIS + 4 };
}

/** Scales of the drawing, one for each role in the main row and one shared by the rows below. */
export class Scales {
  private readonly kept = new Map<string, SteadyScale>();

  end(layout: Layout, role: "voltage" | "current" | "other", main: boolean, now_ms: number): number {
    const places = layout.rows.filter(({ row }) => (row.name === "") === main);
    const peaks = places.map(({ row }) => (row[role] ? peakOf(row[role]) : 0));
    return this.scale(`${role} ${main}`).take(Math.max(0, ...peaks), now_ms);
  }

  power(trace: Trace, now_ms: number): number {
    return this.scale("power").take(trace.power ? reach(trace.power) : 0, now_ms);
  }

  private scale(key: string): SteadyScale {
    const known = this.kept.get(key) ?? new SteadyScale();
    this.kept.set(key, known);
    return known;
  }
}

/** How far a line reaches; where it is clipped the range must be seen too. */
function peakOf(line: Line): number {
  const ends = [...line.peak, ...(line.clipped ? line.range : [])];
  return Math.max(...ends.map(Math.abs).filter(Number.isFinite), 0);
}

export function placeOf(layout: Layout, columns: number, y0: number, half: number, end: number): Place {
  return { x0: layout.left, dx: (layout.right - layout.left) / columns, y0, ky: half / end };
}
