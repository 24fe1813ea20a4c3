/** Two runs laid on each other, as the service tells them, and the words and figures for them. Pure. */
import { capital, clock, day, number, stretch, withUnit } from "./format";
import { plusMinus, rounded, writtenAs } from "./rounding";
import { whenWords } from "./runs";

export interface Side {
  readonly run: string;
  readonly rig: string;
  readonly motor: string;
  readonly opened_utc_s: number;
  readonly at_utc_s: number;
  readonly from_s: number;
  readonly step_s: number;
  readonly current_a: readonly (number | null)[];
  readonly speed_rpm: readonly (number | null)[];
  readonly synchronous_rpm: number | null;
}

export interface Figure {
  readonly value: number | null;
  readonly u95: number | null;
  readonly bound: string;
  readonly reason: string;
}

export interface Difference {
  readonly key: string;
  readonly label: string;
  readonly unit: string;
  readonly digits: number;
  readonly definition: string;
  readonly outcome: "differs" | "alike" | "absent" | "unknown";
  readonly older: Figure;
  readonly newer: Figure;
  readonly change: number | null;
  readonly change_u95: number | null;
  readonly share: number | null;
  readonly why: string;
}

export interface Comparison {
  readonly kind: string;
  readonly kinds: readonly { readonly kind: string; readonly text: string }[];
  readonly older: Side;
  readonly newer: Side;
  readonly differences: readonly Difference[];
}

export const START = "power_on";
const PAIR = 2; // runs that are laid on each other at a time
const ONE_DAY_S = 86_400;

/** The runs that are ticked after one more press; `refused`: a third, which would hide the other two. */
export function ticked(before: readonly string[], name: string): { readonly picked: readonly string[]; readonly refused: boolean } {
  if (before.includes(name)) return { picked: before.filter((each) => each !== name), refused: false };
  return before.length < PAIR ? { picked: [...before, name], refused: false } : { picked: before, refused: true };
}

/** What is ticked, by the address: "20261112-1620-heron-1+20261125-1402-heron-1"; one that waits for another ends in "+". */
export function ticksOf(address: string): readonly string[] {
  const names = address.split("+");
  return names.length === PAIR ? names.filter(Boolean) : [];
}

/** Both, where two are ticked; a run's name alone is one run. */
export function pairOf(address: string): readonly [string, string] | null {
  const [one, other] = ticksOf(address);
  return one && other ? [one, other] : null;
}

/** Short names of the two: the day, or the time of day where both are of one. */
export function names({ older, newer }: Pick<Comparison, "older" | "newer">): readonly [string, string] {
  const [one, other] = [older.opened_utc_s, newer.opened_utc_s];
  const minute = (utc_s: number): string => clock(utc_s).slice(0, 5);
  if (other - one < ONE_DAY_S && day(one) === day(other)) return minute(one) === minute(other) ? [clock(one), clock(other)] : [minute(one), minute(other)];
  return day(one, other) === day(other) ? [whenWords(one, other), whenWords(other, other)] : [day(one, other), day(other)];
}

/** A value with its unit in the digits that its ± allows, and the ± for beside it. */
export function figureWords({ value, u95, bound }: Figure, { unit, digits }: Pick<Difference, "unit" | "digits">): readonly [string, string] {
  if (value === null) return ["–", ""];
  const known = u95 !== null && u95 > 0;
  const shown = rounded(value, known ? { half: u95, low: value - u95, high: value + u95 } : null, digits, false);
  return [[bound, withUnit(writtenAs(shown), unit)].filter(Boolean).join(" "), known ? plusMinus(shown) : ""];
}

/** "+18 %"; of a change that is far less than one in a hundred with more digits. */
export function changeWords({ outcome, share, older, newer, why }: Pick<Difference, "outcome" | "share" | "older" | "newer" | "why">): string {
  if (outcome === "absent") return `absent: ${older.value === null ? older.reason : newer.reason}`;
  if (outcome === "unknown") return why;
  if (share === null) return "from nothing";
  const size = Math.abs(share);
  return `${share > 0 ? "+" : ""}${withUnit(number(share, size >= 9.95 ? 0 : size >= 0.995 ? 1 : 2), "%")}`;
}

/** "start switch opened after" -> "Start switch opened after". */
export function labelOf({ label }: Pick<Difference, "label">): string {
  return capital(label);
}

/** A moment that stands in the drawing as a dimension: where it lies in both, and how much later the newer has it. */
export interface Moved {
  readonly older_s: number;
  readonly newer_s: number;
  readonly words: string;
  readonly short: string;
}

const MOMENTS = [["switch_s", "switch opens"], ["starting_time_s", "up to speed"]] as const;

/** The first moment of a start that differs; null where none does, or where another event is laid on the other. */
export function moved({ kind, differences }: Comparison): Moved | null {
  if (kind !== START) return null;
  for (const [key, words] of MOMENTS) {
    const found = differences.find((each) => each.key === key && each.outcome === "differs");
    if (!found || found.older.value === null || found.newer.value === null) continue;
    const later_s = found.newer.value - found.older.value;
    const short = `${stretch(Math.abs(later_s))} ${later_s > 0 ? "later" : "earlier"}`;
    return { older_s: found.older.value, newer_s: found.newer.value, words: `${words} ${short}`, short };
  }
  return null;
}

/** The drawing as a sentence: what is drawn, and what differs most. */
export function sentence(comparison: Comparison): string {
  const [older, newer] = names(comparison);
  const found = moved(comparison);
  const first = comparison.differences.find(({ outcome }) => outcome === "differs");
  const most = found ? `${found.words} on ${newer}` : first ? `${first.label} ${changeWords(first)} on ${newer}` : "no figure differs beyond both uncertainties";
  return `Speed and current of two runs laid on each other, ${older} thin and ${newer} thick: ${most}.`;
}
