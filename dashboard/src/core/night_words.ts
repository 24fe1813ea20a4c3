/** What the Night screen says of time spent, samples and test plans. Pure. */
import { capital, clock, day, duration, number, withUnit } from "./format";
import type { AccountLine, Hole, Night, Window } from "./night";
import { withUncertainty } from "./rounding";

export interface Share {
  readonly state: string;
  readonly seconds: number;
}

const ORDER = ["running", "starting", "stalled", "coasting", "resting", "unknown", "not recorded"];

/** Run states and how long each was, in the order in which they are read; what was nothing is left out. */
export function shares({ spent }: Pick<Night, "spent">): Share[] {
  const known = Object.entries(spent).filter(([, seconds]) => seconds >= 0.05);
  const rank = (state: string): number => (ORDER.indexOf(state) + ORDER.length + 1) % (ORDER.length + 1);
  return known.map(([state, seconds]) => ({ state, seconds })).sort((one, other) => rank(one.state) - rank(other.state));
}

export function shareWords({ state, seconds }: Share, total_s: number): string {
  return `${state} ${duration(seconds)}, ${withUnit(percent((100 * seconds) / total_s), "%")}`;
}

/** 100 and 0 only where it is all or nothing. */
function percent(share: number): string {
  if (share > 99.9 && share < 100) return "99.9";
  return share > 0 && share < 0.1 ? "<\u00a00.1" : number(share, 1);
}

/** "came to speed once, stalls 0, reversals 0, cycles 1; at least 41.0 Ah, 492 Wh": it comes to speed after stalls too, not after starts alone. */
export function countsWords({ counts, energy_j, charge_c, sums_short }: Pick<Night, "counts" | "energy_j" | "charge_c" | "sums_short">, cycles: number | null): string {
  const ran = counts["running"] ?? 0;
  const counted = [["stalls", counts["stalled"] ?? 0], ["reversals", counts["reversed"] ?? 0]] as const;
  const events = [`came to speed ${ran === 1 ? "once" : `${number(ran)} times`}`, ...counted.map(([name, count]) => `${name} ${number(count)}`)];
  const sums = [charge_c === null ? "" : amount(charge_c / 3600, "Ah"), energy_j === null ? "" : amount(energy_j / 3600, "Wh")].filter(Boolean);
  return [[...events, ...(cycles === null ? [] : [`cycles ${number(cycles)}`])].join(", "), sums.length ? `${sums_short ? "at least " : ""}${sums.join(", ")}` : ""].filter(Boolean).join("; ");
}

function amount(value: number, unit: string): string {
  const size = Math.abs(value);
  return withUnit(number(value, size >= 99.95 ? 0 : size >= 9.995 ? 1 : size >= 0.9995 ? 2 : 3), unit);
}

/** "7 min without samples: cable out"; where there is no room without the reason. */
export function holeWords({ from_utc_s, to_utc_s, reason }: Hole, short = false): string {
  const said = `${duration(to_utc_s - from_utc_s)} ${/^(no run|run closed)/.test(reason) ? "not recorded" : "without samples"}`;
  return short ? said : `${said}: ${reason}`;
}

/** "12 004 800 samples promised of U supply, I motor; all are stored." */
export function accountWords({ channels, what, promised, stored, missing, exact }: AccountLine): string {
  const of = channels.length > 0 && channels.length <= 4 ? channels.join(", ") : channels.length ? `${channels.length} channels` : what;
  const reasons = Object.entries(missing).map(([reason, count]) => `${number(count)} ${reason}`);
  const sum = reasons.length ? `${number(stored)} stored + ${reasons.join(" + ")}` : `all ${number(stored)} stored`;
  return `${capital(of)}: ${number(promised)} promised${channels.length > 1 ? " each" : ""} = ${sum}.${exact ? "" : " This sum is wrong: please report it."}`;
}

/** "25 Nov 21:40 to 08:00": a window in words; days only where they differ. */
export function windowWords({ from_utc_s, to_utc_s }: Window, now_utc_s: number): string {
  const short = to_utc_s - from_utc_s < 600;
  const time = (utc_s: number): string => clock(utc_s).slice(0, short ? 8 : 5);
  const [first, last] = [day(from_utc_s, now_utc_s), day(to_utc_s, now_utc_s)];
  return `${first} ${time(from_utc_s)} to ${first === last ? "" : `${last} `}${time(to_utc_s)}`;
}

/** How long a column is, as the heading of the drawing says it: "mean of 36 s". */
export function columnWords(column_s: number): string {
  return column_s >= 90 ? withUnit(number(column_s / 60, column_s < 600 && column_s % 60 ? 1 : 0), "min") : withUnit(number(column_s, column_s < 9.5 && column_s % 1 ? 1 : 0), "s");
}

export interface Judgement {
  readonly outcome: "pass" | "fail" | "undecided";
  readonly passed_utc_s: number | null;
  readonly reasons: readonly string[];
  readonly unknown: readonly string[];
  readonly failures: readonly { readonly text: string; readonly run: string; readonly utc_s: number; readonly cycle: number | null }[];
  readonly failures_count: number;
  readonly cycles: number;
  readonly hours: number;
  readonly left: { readonly seconds: number | null; readonly u95: number | null; readonly reason: string; readonly cycles: number | null; readonly hours: number | null; readonly by: string };
}

export interface PlanTest {
  readonly specimen?: string;
  readonly serial?: string;
  readonly goal_cycles?: number;
  readonly goal_hours?: number;
  readonly heat_run?: string;
}

const LENGTHS = [["days", 86_400], ["h", 3600], ["min", 60], ["s", 1]] as const;
const DECIMALS_MAX = 4; // of hours: less than a second

/** Counts against their goals: "3 120 of 10 000 cycles", "41.2 of 500 h". */
export function goalWords(test: PlanTest, { cycles, hours }: Pick<Judgement, "cycles" | "hours">): string[] {
  const said: string[] = [];
  said.push(test.goal_cycles === undefined ? `${number(cycles)} cycles so far` : `${number(cycles)} of ${withUnit(number(test.goal_cycles), "cycles")}`);
  const decimals = Math.min((String(test.goal_hours ?? "").split(".")[1] ?? "").length, DECIMALS_MAX); // as it was given
  const shown = Math.max(hours < 10 ? 2 : 1, decimals);
  const on = number(Math.floor(hours * 10 ** shown + 1e-9) / 10 ** shown, shown); // what is not reached is not shown as reached
  said.push(test.goal_hours === undefined ? `${hours < 1 ? duration(3600 * hours) : withUnit(on, "h")} on` : `${on} of ${withUnit(number(test.goal_hours, decimals), "h")} on`);
  if (test.heat_run) said.push("until thermal equilibrium");
  return said;
}

/** "4.25 ± 0.13 days left, by the newest cycles", or why that is not known. */
export function leftWords({ left }: Pick<Judgement, "left">): string {
  if (left.seconds === null) return left.reason ? `Time left is not known: ${left.reason}.` : "";
  if (left.seconds <= 0) return "";
  const [unit, length_s] = LENGTHS.find(([, length_s]) => left.seconds! >= 2 * length_s) ?? LENGTHS.at(-1)!;
  const known = left.u95 !== null && left.u95 >= 0.5;
  const said = known ? withUncertainty(left.seconds / length_s, left.u95 / length_s, unit) : unit === "days" ? withUnit(number(left.seconds / length_s, 1), unit) : duration(left.seconds);
  return `About ${said} left${left.by ? `, by ${left.by}` : ""}.`;
}
