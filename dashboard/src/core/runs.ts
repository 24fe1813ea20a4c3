/** Recorded runs as the service tells them over HTTP, and the words for them. Pure. */
import { clock, day, duration, size, typeWords } from "./format";
import type { Happened } from "./picture";

export interface Start {
  readonly utc_s: number;
  readonly step_s: number;
  readonly current_a: readonly (number | null)[];
}

export interface Run {
  readonly name: string;
  readonly rig: string;
  readonly serial: string;
  readonly opened_utc_s: number;
  readonly closed_utc_s: number | null;
  readonly reason: string; // why it closed
  readonly recording: boolean;
  readonly silent_since_utc_s: number | null; // since when no samples come into it; null: they come, or it is not recorded
  readonly length_s: number | null;
  readonly bytes: number | null;
  readonly motor: string;
  readonly type: string;
  readonly source: string;
  readonly happened: readonly string[];
  readonly kinds: readonly string[]; // of its events, and "alarm"
  readonly events_count: number;
  readonly missing_s: number;
  readonly note: string;
  readonly tags: readonly string[];
  readonly start: Start | null;
  readonly summed_up: boolean;
  readonly summing_up_share: number | null; // how far that is, or a log that is made again
  readonly trouble: string;
}

export interface Overview {
  readonly from_utc_s: number;
  readonly column_s: number;
  readonly low: readonly (number | null)[];
  readonly high: readonly (number | null)[];
}

export interface WholeRun extends Run {
  readonly events: readonly Happened[]; // the oldest first
  readonly gaps: readonly (readonly [number, number])[];
  readonly overview: Overview | null;
  readonly troubles: readonly string[];
  readonly thinned: string; // what was given up for room, or ""
  readonly account: readonly { readonly words: string; readonly exact: boolean }[]; // of all samples, so far where it is recorded now
  readonly counted_from_utc_s: number | null; // only from here on
}

export interface Deleted {
  readonly name: string;
  readonly rig: string;
  readonly opened_utc_s: number;
  readonly closed_utc_s: number | null;
  readonly deleted_utc_s: number;
  readonly removed_utc_s: number;
}

/** Beside this tag stands the run that others are compared with. */
export const REFERENCE = "reference";

const HAPPENED: readonly (readonly [string, string])[] = [
  ["alarm", "an alarm"], ["stalled", "a stall"], ["auxiliary", "start switch or winding"], ["reversed", "a reversal"], ["load_step", "a change of load"],
  ["voltage", "a dip or swell of the voltage"], ["clipping", "clipped samples"], ["gap", "missing samples"], ["board_reset", "board started anew"], ["hall_states", "Hall states"],
];

/** Types of motors and kinds of events that a list can be narrowed to: those that stand in it. */
export function filters(runs: readonly Run[]): { readonly types: readonly string[]; readonly kinds: readonly (readonly [string, string])[] } {
  const there = new Set(runs.flatMap(({ kinds }) => kinds));
  return { types: [...new Set(runs.map(({ type }) => type).filter(Boolean))].sort(), kinds: HAPPENED.filter(([kind]) => there.has(kind)) };
}

/** The runs of a type in which something of a kind happened; "": any. */
export function narrowed(runs: readonly Run[], type: string, kind: string): readonly Run[] {
  return runs.filter((run) => (!type || run.type === type) && (!kind || run.kinds.includes(kind)));
}

/** Tags with one more; one that is there already, whatever its capitals, stays as it is. */
export function withTag(tags: readonly string[], more: string): readonly string[] {
  const plain = more.trim().replace(/\s+/g, " ");
  return !plain || tags.some((tag) => tag.toLowerCase() === plain.toLowerCase()) ? tags : [...tags, plain];
}

/** The run that this one is compared with: the newest of its motor that is tagged as the reference, but not itself. */
export function referenceOf(run: Pick<Run, "name" | "motor">, tagged: readonly Run[]): Run | null {
  return tagged.find((each) => each.name !== run.name && each.motor === run.motor && each.tags.some((tag) => tag.toLowerCase() === REFERENCE)) ?? null;
}

/** "25 Nov 14:02" */
export function whenWords(utc_s: number, now_utc_s: number): string {
  return `${day(utc_s, now_utc_s)} ${clock(utc_s).slice(0, 5)}`;
}

type Lasting = Pick<Run, "length_s" | "opened_utc_s" | "silent_since_utc_s">;

/** For how long there are samples of it: the time since its cable is out does not count. */
function sampled_s({ length_s, opened_utc_s, silent_since_utc_s }: Lasting): number | null {
  return silent_since_utc_s === null ? length_s : Math.max(0, silent_since_utc_s - opened_utc_s);
}

/** For a list: "9 s", "14 min", "10 h 20 min". */
export function lengthWords(run: Lasting): string {
  const length_s = sampled_s(run);
  if (length_s === null) return "";
  const whole = Math.round(length_s);
  return whole >= 60 && whole < 3600 ? `${Math.floor(whole / 60)}\u00a0min` : duration(whole);
}

/** "cabin ventilator, heron-1, demo" */
export function whoseWords({ motor, type, rig, source }: Pick<Run, "motor" | "type" | "rig" | "source">): string {
  return [motor || typeWords(type), rig, source === "hardware" ? "" : source].filter(Boolean).join(", ");
}

const PHRASES = 3; // the rarest come first; a run that is opened tells all

function recordingWords({ silent_since_utc_s }: Pick<Run, "silent_since_utc_s">): string {
  return silent_since_utc_s === null ? "being recorded" : `open, but no samples since ${clock(silent_since_utc_s)}`;
}

function settlingWords({ summing_up_share }: Pick<Run, "summing_up_share">): string {
  return summing_up_share === null ? "waits to be summed up" : "being summed up";
}

/** What stands beside a run in the list; what is not known yet says so. */
export function happenedWords(run: Run): string {
  const told = run.happened.length > PHRASES + 1 ? [...run.happened.slice(0, PHRASES), `and ${run.happened.length - PHRASES} more`] : run.happened;
  if (run.recording) return [recordingWords(run), ...told].join("; ");
  if (run.trouble) return run.trouble;
  if (run.closed_utc_s === null) return [...told, "not ended: its board or the service went away", ...(run.summed_up ? [] : [settlingWords(run)])].join("; ");
  return run.summed_up ? told.join("; ") : settlingWords(run);
}

/** Whether it is at rest and is summed up now or soon; what cannot be says so in its trouble. */
export function settles({ recording, summed_up, trouble }: Pick<Run, "recording" | "summed_up" | "trouble">): boolean {
  return !recording && !summed_up && !trouble;
}

/** What is at work on it, or "". */
export function workWords(run: Pick<Run, "recording" | "trouble" | "summed_up" | "summing_up_share">): string {
  const { summed_up, summing_up_share } = run;
  if (settles(run) && summing_up_share === null) return "It waits its turn to be summed up";
  return summing_up_share === null ? "" : summed_up ? "Its log is being made again, by playing the run" : "Being summed up, by playing the run";
}

/** The lines of an opened run: what it is and how it ended. */
export function facts(run: WholeRun): readonly (readonly [string, string])[] {
  const end = run.closed_utc_s === null ? (run.recording ? `not yet: ${recordingWords(run)}` : "not yet") : `${whenWords(run.closed_utc_s, run.opened_utc_s)}, ${run.reason}`;
  const length_s = sampled_s(run);
  return ([
    ["Board", run.serial],
    ["Length", length_s === null ? "" : duration(Math.round(length_s))],
    ["Ended", end],
    ["Without samples", run.summed_up ? (run.missing_s >= 0.05 ? duration(run.missing_s) : "none") : ""],
    ["Size", run.bytes === null ? "" : size(run.bytes)],
  ] as const).filter(([, words]) => words !== "");
}

/** What an account of samples comes to; `open`: of a run that goes on. */
export function accountNote(account: readonly { readonly exact: boolean }[], open: boolean, counted_from_utc_s: number | null, silent_since_utc_s: number | null = null): string {
  const wrong = account.filter(({ exact }) => !exact).length;
  const far = open ? "so far " : "";
  const silent = silent_since_utc_s === null ? "" : ` up to ${clock(silent_since_utc_s)}; nothing came after`;
  const since = counted_from_utc_s === null ? "" : `; counted since ${clock(counted_from_utc_s).slice(0, 5)}, when the service was started again`;
  return wrong ? `${wrong} of ${account.length} sums are wrong: our fault${since}` : `${far}every sample is stored, or missing for a reason${silent}${since}`;
}

/** The next moment that something decisive happened at, or the one before; null: there is none. */
export function nextEvent(events: readonly Happened[], at_utc_s: number, forward: boolean): Happened | null {
  const there = events.filter(({ utc_s }) => (forward ? utc_s > at_utc_s + EDGE_S : utc_s < at_utc_s - BACK_S));
  return (forward ? there[0] : there[there.length - 1]) ?? null;
}

/** So near an event is reached: a play stands a little before or behind the place that it was sent to. */
const EDGE_S = 0.3;
const BACK_S = 2; // who goes back again and again must pass the one that has just been played
