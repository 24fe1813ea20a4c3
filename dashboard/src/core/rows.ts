/**
 * Which lines of the trace share a row. Voltage and current of the supply stand in the main row; what
 * else the board measures follows as smaller rows, one for each place, on scales that rows share.
 */
import { plain } from "./format";
import type { Line, Trace } from "./picture";

export interface Row {
  readonly name: string;
  readonly voltage: Line | null;
  readonly current: Line | null;
  readonly other: Line | null;
}

/** Places that are the motor's supply, whichever word the board used for it. */
const SUPPLY = ["supply", "line", "mains", "dc_link", "dc link", "terminals", "motor", "armature", "bridge", ""];

const LEADS = ["U", "V", "W"];

/** The first row is the main one. Where there is no supply line every line is of equal rank. */
export function rowsOf(trace: Trace): Row[] {
  const first = (role: string): Line | null =>
    trace.lines.find((line) => line.role === role && SUPPLY.includes(line.place.toLowerCase())) ?? null;
  const main = { voltage: first("voltage"), current: first("current") };
  const rest = trace.lines.filter((line) => line !== main.voltage && line !== main.current);
  const rows = byPlace(rest);
  if (!main.voltage && !main.current) return rows;
  return [{ name: "", ...main, other: null }, ...rows];
}

function byPlace(lines: readonly Line[]): Row[] {
  const rows: Row[] = [];
  for (const line of lines) {
    const role = line.role === "voltage" || line.role === "current" ? line.role : "other";
    const at = rows.findIndex((row) => row.name === placeName(line) && row[role] === null);
    const row = rows[at] ?? { name: placeName(line), voltage: null, current: null, other: null };
    const filled = { ...row, [role]: line };
    if (at < 0) rows.push(filled);
    else rows[at] = filled;
  }
  return rows;
}

function placeName(line: Line): string {
  return line.place ? placeWords(line.place) : line.name;
}

/** A place of the board in words: "U" alone would be a voltage. */
export function placeWords(place: string): string {
  return LEADS.includes(place) ? `phase ${place}` : plain(place);
}
