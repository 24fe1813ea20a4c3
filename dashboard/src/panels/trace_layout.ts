/** Where things lie in the drawing of voltage and current. Pure geometry in pixels of a 16 px root. */
import type { Place } from "../draw/envelope";
import { stepped } from "../draw/stepped";
import type { Size } from "../draw/drawing";
import { reach } from "../core/columns";
import type { Line, Span, Trace } from "../core/picture";
import { type Row, rowsOf } from "../core/rows";
import { SteadyScale } from "../core/steady";

const EXTRA = { wide: 58, slim: 70 }; // height of each row below the main one
const EQUAL = { wide: 92, slim: 96 }; // of rows that are of equal rank
const SEQUENCE = 24; // the line of words above three phases
const NAME = 18; // a narrow drawing names a row in a line above it
const AXIS = 26;
const APART = 9; // from a row to the edge of its place: a line at the end of its scale stays nearer to its own zero than to the next row's

export interface RowPlace {
  readonly row: Row;
  readonly y0: number;
  readonly half: number; // pixels from zero to the end of the scale
  readonly top: number;
  readonly foot: number;
}

export interface Layout {
  readonly left: number;
  readonly right: number; // x of the end of the time axis
  readonly rows: readonly RowPlace[];
  readonly dimensionY: number;
  readonly sequenceY: number | null; // of the words on three phases of equal rank
  readonly power: { readonly y0: number; readonly half: number } | null;
  readonly axisY: number;
}

/** Rows and power are told apart by count alone, so the height stands still while the motor runs. */
export interface Shape {
  readonly main: boolean;
  readonly extras: number;
  readonly power: boolean;
}

/** Stepped back only the main row is left. */
export function shapeOf(trace: Trace | null, stepped: boolean): Shape {
  if (!trace) return { main: true, extras: 0, power: true };
  const rows = rowsOf(trace);
  const main = rows[0]?.name === "";
  const both = main && rows[0]?.voltage !== null && rows[0]?.current !== null;
  return { main, extras: stepped && main ? 0 : rows.length - (main ? 1 : 0), power: both };
}

export function heightOf(shape: Shape, slim: boolean): number {
  return mainHeight(shape, slim) + (shape.power ? (slim ? 104 : 66) : 0) + shape.extras * rowHeight(shape, slim) + AXIS;
}

function rowHeight({ main }: Shape, slim: boolean): number {
  return (main ? EXTRA : EQUAL)[slim ? "slim" : "wide"];
}

function isThree({ main, extras }: Shape): boolean {
  return !main && extras === 3;
}

function mainHeight(shape: Shape, slim: boolean): number {
  return shape.main ? (slim ? 246 : 184) : 10 + (isThree(shape) ? SEQUENCE * (slim ? 2 : 1) : 0);
}

/** `oneSided`: next to nothing in the main row goes below zero, so zero is near its foot. */
export function layoutOf(trace: Trace, { width, height, slim }: Size, oneSided: boolean): Layout {
  const shape = shapeOf(trace, stepped.value);
  const [left, right] = slim ? [6, width - 6] : [78, width - 88];
  const [middle, reach] = slim ? [120, 92] : [82, 72];
  const [y0, half] = oneSided ? [middle + FOOT * reach, (1 + FOOT) * reach] : [middle, reach];
  const dimensionY = middle + reach + (slim ? 26 : 18);
  let below = mainHeight(shape, slim);
  const power = shape.power ? { y0: below + (slim ? 60 : 34), half: 32 } : null;
  if (power) below += slim ? 104 : 66;
  const all = rowsOf(trace).slice(0, shape.extras + (shape.main ? 1 : 0));
  const rows = all.map((row, k): RowPlace => {
    if (shape.main && k === 0) return { row, y0, half, top: middle - reach, foot: middle + reach };
    const height = rowHeight(shape, slim);
    const at = below + (k - (shape.main ? 1 : 0)) * height;
    const [top, foot] = [at + (slim ? NAME : 0) + APART, at + height - APART];
    return { row, y0: (top + foot) / 2, half: (foot - top) / 2, top, foot };
  });
  return { left, right, rows, dimensionY, sequenceY: isThree(shape) ? 16 : null, power, axisY: height - AXIS + 4 };
}

export interface Ends {
  readonly oneSided: boolean;
  readonly end: (role: Role, main: boolean) => number;
  readonly power: number;
}

type Role = "voltage" | "current" | "other";

/** A line that reaches less than this share of its range is noise: it is not blown up to fill the drawing. */
const QUIET = 0.02;
/** A one-sided row keeps room below zero for short dips: its zero line is so far down, as a share of half its height; what dips further has the room of the dimension, which direct current has not. */
const FOOT = 0.6;
/** A dip below zero of more than this share of the scale makes the row two-sided; the current beside a direct voltage may flow back. */
const DIP = { voltage: 0.1, current: 0.4 };
/** Below this share of the scale nothing flows. */
const FLOWS = 0.25;
const ONE_SIDED_AFTER_MS = 3000;
/** Beside a direct voltage the current keeps below it, so that two flat lines do not lie on each other. */
const UNDER = 2;

/** A current that swells at a start makes its scale step a few times, not with each picture; a voltage comes at once. */
const ROOM = { voltage: 1, other: 1.5 };

/** Scales of the drawing, one for each role in the main row and one shared by the rows below. Taken once a picture. */
export class Scales {
  private readonly kept = new Map<string, SteadyScale>();
  private above = false;
  private aboveSince_ms: number | null = -Infinity; // the first picture decides at once

  take(trace: Trace, now_ms: number): Ends {
    const rows = rowsOf(trace);
    const ends = new Map<string, number>();
    for (const main of [true, false]) {
      for (const role of ["voltage", "current", "other"] as const) {
        const lines = rows.filter((row) => (row.name === "") === main).map((row) => row[role]).filter((line) => line !== null);
        ends.set(`${role} ${main}`, this.scale(`${role} ${main}`).take(Math.max(0, ...lines.map(peakOf)), now_ms));
      }
    }
    const oneSided = this.oneSided(rows[0], ends, now_ms);
    const voltage = rows[0]?.voltage ?? null;
    const beside = voltage !== null && (oneSided || isDirect(voltage));
    return {
      oneSided,
      end: (role, main) => (ends.get(`${role} ${main}`) ?? 1) * (main && beside && role === "current" ? UNDER : 1),
      power: this.scale("power").take(trace.power ? Math.max(reach(trace.power), quietPower(ends)) : 0, now_ms),
    };
  }

  /** Two-sided at once when something goes below zero; one-sided after only what is above has shown for a while. */
  private oneSided(row: Row | undefined, ends: Map<string, number>, now_ms: number): boolean {
    if (row?.name !== "") return false;
    const reaches = (role: "voltage" | "current", side: 0 | 1, share: number): boolean =>
      row[role] !== null && Math.abs(row[role].peak[side]) > share * (ends.get(`${role} true`) ?? 1) && row[role].peak[side] > 0 === (side === 1);
    const direct = reaches("voltage", 1, FLOWS);
    if (reaches("voltage", 0, DIP.voltage) || (!direct && reaches("current", 0, DIP.current))) this.aboveSince_ms = null;
    else if (direct || reaches("current", 1, FLOWS)) this.aboveSince_ms ??= now_ms;
    else return this.above; // nothing flows: the drawing stays as it was
    this.above = this.aboveSince_ms !== null && now_ms - this.aboveSince_ms > ONE_SIDED_AFTER_MS;
    return this.above;
  }

  private scale(key: string): SteadyScale {
    const known = this.kept.get(key) ?? new SteadyScale(undefined, ROOM[key.startsWith("voltage") ? "voltage" : "other"]);
    this.kept.set(key, known);
    return known;
  }
}

function isDirect(voltage: Line): boolean {
  return Math.min(...voltage.peak.map(Math.abs)) > 0.5 * reach(voltage) && voltage.peak[0] > 0 === voltage.peak[1] > 0;
}

/** u × i of two quiet lines is noise too. */
function quietPower(ends: Map<string, number>): number {
  return (ends.get("voltage true") ?? 0) * (ends.get("current true") ?? 0) * 0.1;
}

/** How far a line reaches; where it is clipped the range must be seen too. */
function peakOf({ peak, range, clipped }: Line): number {
  const far = (ends: Span): number => Math.max(...ends.map(Math.abs).filter(Number.isFinite), 0);
  return Math.max(far(peak), far(range) * (clipped ? 1 : QUIET));
}

export function placeOf(layout: Layout, columns: number, y0: number, half: number, end: number): Place {
  return { x0: layout.left, dx: (layout.right - layout.left) / columns, y0, ky: half / end };
}
