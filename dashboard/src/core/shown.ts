/**
 * How one reading looks, wherever it stands: far line, drawing, table, spoken sentence. Doubtful and
 * absent are decided here and nowhere else, so they look the same everywhere.
 */
import { DASH, below, clock, number, withUnit } from "./format";
import type { Quantity, Reading, Readings } from "./picture";
import { plusMinus as offWords, writtenAs } from "./rounding";
import { steadiedOf } from "./steadied";

export interface Shown {
  readonly mark: "" | "doubtful" | "absent" | "stale";
  readonly text: string; // the number or word alone
  readonly unit: string; // "" behind a dash
  readonly why: string; // "" for a good one, else the word, a colon, the reason
  readonly title: string; // what a sign before the number means, or ""
  readonly plusMinus: string; // what it may be off by, or "" where that is not known or there is no room
}

const NOTHING: Shown = { mark: "absent", text: DASH, unit: "", why: "", title: "", plusMinus: "" };

/** `changing`: the motor starts, so that a slip changes within its own window; `short`: few digits, no ±. */
export function shown(quantity: Quantity | undefined, reading: Reading | undefined, changing = false, short = false): Shown {
  if (!reading) return NOTHING;
  if (reading.value === null || reading.aged === "absent" || reading.confidence === "absent") {
    return { ...NOTHING, why: `absent: ${reading.reason || "not measured"}` };
  }
  const [text, unit, plusMinus] = written(quantity, reading, changing, short);
  const title = reading.least === undefined ? "" : "below what its channel can tell from noise and offset";
  if (reading.aged === "stale") return { mark: "stale", text, unit, why: wasTrue(reading), title, plusMinus };
  if (reading.confidence === "doubtful") return { mark: "doubtful", text, unit, why: `doubtful: ${reading.reason}`, title, plusMinus };
  return { mark: "", text, unit, why: "", title, plusMinus };
}

function wasTrue(reading: Reading): string {
  return reading.at_utc_s === null ? `stale: ${reading.reason}` : `was true at ${clock(reading.at_utc_s)}`;
}

function written(quantity: Quantity | undefined, reading: Reading, changing: boolean, short: boolean): readonly [string, string, string] {
  const value = reading.value;
  if (typeof value === "string") return [value, "", ""];
  if (typeof value !== "number") return [listed(value ?? [], quantity?.digits), quantity?.unit ?? "", ""];
  if (!quantity) return [String(value), "", ""];
  if (reading.least !== undefined) return [below(reading.least, "", quantity.digits), quantity.unit, ""];
  const steadied = reading.steadied ?? steadiedOf(quantity, reading, changing);
  const found = short ? steadied.short : steadied.table;
  const sign = bound(quantity, reading);
  const text = sign + writtenAs({ ...found, value: sign === AT_MOST ? Math.abs(found.value) : found.value });
  return [text, quantity.key === "slip" ? "%" : quantity.unit, short ? "" : offWords(found)];
}

/** Between several numbers, in the order of their places: a cell breaks the line here, never within a number. */
const BETWEEN = ",\u2009\u2009";

function listed(values: readonly number[], digits = 3): string {
  return values.map((value) => number(value ?? NaN, digits).replaceAll("\u2009", "\u202f")).join(BETWEEN);
}

/** Whether it is several numbers, whose unit stands once behind the last. */
export function isListed({ text }: Shown): boolean {
  return text.includes(BETWEEN);
}

/** A reading in few digits where no quantity is at hand: those of the picture, else `digits`. */
export function shortText(reading: Reading, digits: number): string {
  return reading.steadied ? writtenAs(reading.steadied.short) : number(reading.value as number, digits);
}

/**
 * A clipped sample lay further out than it says, so an RMS over it is only a lower bound. Where no edge comes any more the
 * speed is at most one edge in the time since, whichever way it turns, and the slip at least what follows from it.
 */
const AT_MOST = "≤\u00a0";

function bound({ key }: Quantity, { confidence, reason }: Reading): string {
  if (confidence !== "doubtful") return "";
  if (/_rms_/.test(key) && /clipp/.test(reason)) return "≥\u00a0";
  if (!/at most this/.test(reason)) return "";
  return key === "slip" ? "≥\u00a0" : key === "speed_rpm" ? AT_MOST : "";
}

export function isStarting(readings: Readings): boolean {
  return readings["run_state"]?.value === "starting";
}

export function inWords(look: Shown): string {
  return withUnit(look.text, look.unit);
}

/** Key of a reading's id: "current_rms_a.U" -> "current_rms_a". */
export function keyOf(id: string): string {
  return id.split(".", 1)[0] ?? id;
}

export function placeOf(id: string): string {
  return id.slice(keyOf(id).length + 1);
}

/** The reading with this key, without a place if there is one, else the first that has one. */
export function find(readings: Readings, key: string): Reading | undefined {
  return readings[key] ?? Object.entries(readings).find(([id]) => keyOf(id) === key)?.[1];
}

/** Its number, where there is one that may be used. */
export function numberOf(readings: Readings, key: string): number | null {
  const reading = find(readings, key);
  const usable = reading && reading.aged !== "absent" && typeof reading.value === "number";
  return usable ? (reading.value as number) : null;
}
