/**
 * A night as the service tells it (`/trends`, `/night`), which stretch of time is looked at, and the places of its time axis.
 * Times are UTC seconds. Pure.
 */
import { clock, day } from "./format";
import type { Told } from "./night_alarms";
import type { WholeRun } from "./runs";

export interface Window {
  readonly from_utc_s: number;
  readonly to_utc_s: number;
}

/** Of one reading, a value for each column, NaN where there is none. */
export interface Band {
  readonly low: Float32Array;
  readonly high: Float32Array;
  readonly mean: Float32Array;
  readonly trusted: Float32Array; // the share of good values among all that there should be
  readonly bound: "" | "≤" | "≥"; // where the last value is only a bound
}

export interface Trends extends Window {
  readonly columns: number;
  readonly there: readonly string[]; // ids of all readings that the runs have
  readonly states: readonly (readonly [number, string])[]; // from when on, and the run state
  readonly runs: readonly { readonly run: string; readonly from_utc_s: number | null; readonly to_utc_s: number | null; readonly trouble: string }[];
  readonly readings: Readonly<Record<string, Band>>;
}

/** Whether nothing was recorded in all of a stretch: it is drawn empty, and readings are not gone for good. */
export function isBlank({ runs }: Pick<Trends, "runs">): boolean {
  return runs.every((run) => run.from_utc_s === null);
}

export interface Hole extends Window {
  readonly reason: string;
}

/** Of one counter of the board: promised = stored + missing. */
export interface AccountLine {
  readonly what: string;
  readonly channels: readonly string[];
  readonly promised: number;
  readonly stored: number;
  readonly missing: Readonly<Record<string, number>>;
  readonly exact: boolean;
  readonly words: string;
}

/** What a stretch of time came to. */
export interface Night extends Window {
  readonly motor: string;
  readonly type: string;
  readonly far: readonly string[];
  readonly answer: string;
  readonly signs: readonly { readonly mark: "for" | "against" | "missing" | "note"; readonly text: string }[];
  readonly unknown: readonly string[];
  readonly next: string;
  readonly caution: string;
  readonly gaps: readonly Hole[];
  readonly silent_since_utc_s: number | null; // since then nothing has come any more of a run that has not closed
  readonly spent: Readonly<Record<string, number>>; // seconds by run state, and "not recorded"
  readonly counts: Readonly<Record<string, number>>; // events by kind
  readonly energy_j: number | null;
  readonly charge_c: number | null;
  readonly sums_short: boolean; // a part was not recorded: they are at least so much
  readonly account: readonly AccountLine[];
  readonly accounts: number; // of so many runs, one that is recorded now so far
  readonly counted_from_utc_s: number | null; // that one only from here on
  readonly alarms: readonly Told[]; // as kept with its runs
  readonly runs: readonly (Window & { readonly run: string })[];
  readonly troubles: readonly string[];
}

/** Stretches that end now, by what stands in the address. */
export const PERIODS = [
  { key: "12h", words: "12 h", length_s: 12 * 3600 },
  { key: "24h", words: "24 h", length_s: 24 * 3600 },
  { key: "week", words: "a week", length_s: 7 * 86_400 },
  { key: "4weeks", words: "4 weeks", length_s: 28 * 86_400 },
] as const;

/** A live axis holds all of its stretch, ends a little ahead of now and moves on by such steps, so that what is looked at stands still meanwhile. */
const STEPS_IN_SPAN = 72;
const LEAST_STEP_S = 10;

export function liveWindow(now_utc_s: number, length_s: number): Window {
  const step = Math.max(LEAST_STEP_S, length_s / STEPS_IN_SPAN);
  const to_utc_s = Math.ceil(now_utc_s / step) * step;
  return { from_utc_s: to_utc_s - step - length_s, to_utc_s };
}

/** A run that is being recorded: from its beginning on; the axis grows by steps. */
export function growingWindow(from_utc_s: number, now_utc_s: number): Window {
  const length_s = Math.max(now_utc_s - from_utc_s, 1);
  const rough = Math.max(LEAST_STEP_S, 2 ** Math.ceil(Math.log2(length_s)) / STEPS_IN_SPAN);
  return { from_utc_s, to_utc_s: from_utc_s + Math.ceil(length_s / rough) * rough };
}

/** Of a run that is not recorded; one that was left open has no end of its own. */
export function endedWindow(run: Pick<WholeRun, "opened_utc_s" | "closed_utc_s"> | null, night: Night | null): Window | null {
  const to_utc_s = run?.closed_utc_s ?? night?.to_utc_s;
  return run === null || to_utc_s === undefined ? null : { from_utc_s: run.opened_utc_s, to_utc_s: Math.max(to_utc_s, run.opened_utc_s) + 0.001 };
}

const NOW_S = 60; // an answer is so old at most when it comes

/** Whether a run that was left open goes on up to now, as its board is waited for: then its answer does. */
export function isAwaited(run: Pick<WholeRun, "closed_utc_s" | "recording">, night: Pick<Night, "to_utc_s">, now_utc_s: number): boolean {
  return run.closed_utc_s === null && !run.recording && now_utc_s - night.to_utc_s < NOW_S;
}

/** How often the newest columns are asked for: about once a column, and at least once a minute. */
export function pauseOf({ from_utc_s, to_utc_s }: Window, columns: number): number {
  return Math.min(Math.max((to_utc_s - from_utc_s) / columns, 2), 60);
}

const LEAST_S = 20; // a column is no shorter than a second: of less nothing would be seen
const NEARER = 0.5;

/** Whether it shows as little as can be looked at; what is shorter is seen by playing it. */
export function isNearest({ from_utc_s, to_utc_s }: Window): boolean {
  return to_utc_s - from_utc_s < 1.001 * LEAST_S;
}

/** Whether what was drawn begins elsewhere than what is asked for; the service begins it on a whole column. */
export function isElsewhere(drawn: Window & { readonly columns: number }, asked: Window): boolean {
  return Math.abs(drawn.from_utc_s - asked.from_utc_s) > 2 * (drawn.to_utc_s - drawn.from_utc_s) / drawn.columns;
}

/** Half or twice as much around a moment, within the whole. */
export function zoomed(now: Window, whole: Window, around_utc_s: number, nearer: boolean): Window {
  const length_s = (now.to_utc_s - now.from_utc_s) * (nearer ? NEARER : 1 / NEARER);
  const share = (around_utc_s - now.from_utc_s) / (now.to_utc_s - now.from_utc_s);
  return within({ from_utc_s: around_utc_s - share * length_s, to_utc_s: around_utc_s + (1 - share) * length_s }, whole);
}

export function panned({ from_utc_s, to_utc_s }: Window, whole: Window, share: number): Window {
  const by = share * (to_utc_s - from_utc_s);
  return within({ from_utc_s: from_utc_s + by, to_utc_s: to_utc_s + by }, whole);
}

/** Moved, and where it must be shortened or made longer, so that it lies in the whole and is worth a look. */
export function within({ from_utc_s, to_utc_s }: Window, whole: Window): Window {
  const most = whole.to_utc_s - whole.from_utc_s;
  const length = Math.min(Math.max(to_utc_s - from_utc_s, Math.min(LEAST_S, most)), most);
  const from = Math.min(Math.max((from_utc_s + to_utc_s - length) / 2, whole.from_utc_s), whole.to_utc_s - length);
  return { from_utc_s: from, to_utc_s: from + length };
}

export interface Tick {
  readonly utc_s: number;
  readonly words: string;
  readonly day: boolean; // local midnight
}

const STEPS_S = [1, 2, 5, 10, 15, 30, 60, 120, 300, 600, 900, 1800, 3600, 7200, 10_800, 21_600, 43_200, 86_400, 172_800, 604_800];
const TICKS_MAX = 60; // more than any drawing has room for

/** Round local times, at most about `most` of them; midnight is told by its day. Two hours of one name are told apart by their offset. */
export function timeTicks({ from_utc_s, to_utc_s }: Window, most: number): Tick[] {
  const step = STEPS_S.find((each) => (to_utc_s - from_utc_s) / each <= most) ?? STEPS_S[STEPS_S.length - 1]!;
  const two = offset(from_utc_s) !== offset(to_utc_s);
  const ticks: Tick[] = [];
  const local = from_utc_s + offset(from_utc_s);
  for (let at = Math.ceil(local / step) * step - offset(from_utc_s); at <= to_utc_s && ticks.length < TICKS_MAX; at += step) {
    const utc_s = step > 3600 ? at + offset(from_utc_s) - offset(at) : at; // round again where the clocks were changed meanwhile
    const midnight = (utc_s + offset(utc_s)) % 86_400 === 0;
    if (utc_s < from_utc_s || utc_s > to_utc_s || (midnight && ticks.some((tick) => tick.utc_s === utc_s))) continue;
    ticks.push({ utc_s, day: midnight, words: midnight && step >= 60 ? (step >= 86_400 || two ? day(utc_s) : `${day(utc_s)}, 00:00`) : clock(utc_s).slice(0, step < 60 ? 8 : 5) + (two ? ` ${offsetWords(utc_s)}` : "") });
  }
  return ticks;
}

/** Seconds that local time is ahead of UTC. */
function offset(utc_s: number): number {
  return -60 * new Date(utc_s * 1000).getTimezoneOffset();
}

function offsetWords(utc_s: number): string {
  const hours = offset(utc_s) / 3600;
  return `${hours < 0 ? "\u2212" : "+"}${Math.abs(hours)}\u00a0h`;
}

/** The column in which a moment lies; −1 outside. */
export function columnAt({ from_utc_s, to_utc_s, columns }: Pick<Trends, "from_utc_s" | "to_utc_s" | "columns">, utc_s: number): number {
  const k = Math.floor(((utc_s - from_utc_s) / (to_utc_s - from_utc_s)) * columns);
  return k >= 0 && k < columns ? k : -1;
}

export interface Spell extends Window {
  readonly state: string;
}

/** Stretches of run states in a window, cut out where nothing was recorded, and where the runs end. */
export function spells({ states, runs, from_utc_s, to_utc_s }: Pick<Trends, "states" | "runs" | "from_utc_s" | "to_utc_s">, holes: readonly Hole[]): Spell[] {
  const begun = runs.flatMap((run): [number, string][] => (run.from_utc_s === null ? [] : [[run.from_utc_s, "unknown"]]));
  const last = Math.max(...runs.map((run) => run.to_utc_s ?? -Infinity));
  const changes = [...begun, ...states].sort((one, other) => one[0] - other[0]);
  const whole = changes.map(([at, state], k) => ({ state, from_utc_s: Math.max(at, from_utc_s), to_utc_s: Math.min(changes[k + 1]?.[0] ?? last, to_utc_s, last) }));
  return whole.flatMap((spell) => cut(spell, holes)).filter((spell) => spell.to_utc_s > spell.from_utc_s);
}

function cut(spell: Spell, holes: readonly Hole[]): Spell[] {
  const hole = holes.find((each) => each.from_utc_s < spell.to_utc_s && each.to_utc_s > spell.from_utc_s);
  if (!hole) return [spell];
  return [{ ...spell, to_utc_s: hole.from_utc_s }, ...cut({ ...spell, from_utc_s: hole.to_utc_s }, holes.filter((each) => each.from_utc_s > hole.from_utc_s))];
}
