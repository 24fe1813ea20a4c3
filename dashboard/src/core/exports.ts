/** What of a run can become a file, and how far it is. Pure. */
import { capital, clock, size } from "./format";
import type { Happened } from "./picture";

export type What = "readings" | "waveforms";

export interface Format {
  readonly key: string;
  readonly label: string;
  readonly suffix: string;
  readonly whats: readonly What[];
  readonly trouble: string; // why it cannot be written here
}

export interface ExportWish {
  readonly as: string;
  readonly what: What;
  readonly from_utc_s: number | null; // null: from the beginning
  readonly to_utc_s: number | null;
}

export interface Size {
  readonly bytes: number;
  readonly fits: boolean;
}

export interface Making {
  readonly number: number;
  readonly run: string;
  readonly as: string;
  readonly what: What | "report" | "run";
  readonly from_utc_s: number | null;
  readonly to_utc_s: number | null;
  readonly state: "waiting" | "making" | "made" | "failed";
  readonly share: number;
  readonly bytes: number | null;
  readonly file: string | null;
  readonly file_name: string;
  readonly trouble: string;
  readonly source: string; // where its figures come from
}

/** A stretch of the run that can be chosen. */
export interface Span {
  readonly words: string;
  readonly group: "" | "A cycle" | "Around an event";
  readonly from_utc_s: number | null;
  readonly to_utc_s: number | null;
}

const AROUND_S = 10;
const EACH_MAX = 50; // of cycles and of events: more is not chosen from a list
const WORDS: Readonly<Record<What, string>> = { waveforms: "samples, SI units", readings: "readings" };

/** Formats that cannot be written here, each with what it needs. */
export function missing(formats: readonly Format[]): readonly string[] {
  return formats.flatMap(({ label, trouble }) => (trouble ? [`${label}: ${trouble}`] : []));
}

/** Contents and formats in one list: "samples, SI units (CSV)"; those that cannot be written here are left out, and `missing` says why. */
export function choices(formats: readonly Format[]): readonly { readonly as: string; readonly what: What; readonly words: string }[] {
  return (["waveforms", "readings"] as const).flatMap((what) =>
    formats.filter((each) => !each.trouble && each.whats.includes(what)).map((each) => ({ as: each.key, what, words: `${WORDS[what]} (${each.label})` })));
}

/** The whole run; each cycle, from power on to the next; ten seconds each side of what decided something. */
export function spans(events: readonly Happened[]): readonly Span[] {
  const on = events.filter(({ kind }) => kind === "power_on");
  const cycles = on.slice(0, EACH_MAX).map((event, k): Span => {
    const next = on[k + 1];
    const end = next ? `to ${clock(next.utc_s)}` : "to the end";
    return { words: `from power on at ${clock(event.utc_s)} ${end}`, group: "A cycle", from_utc_s: event.utc_s - 1, to_utc_s: next ? next.utc_s : null };
  });
  const around = events.filter(({ decisive, kind }) => decisive && kind !== "mark").slice(0, EACH_MAX).map((event): Span => (
    { words: `${clock(event.utc_s)}, ${event.text}`, group: "Around an event", from_utc_s: event.utc_s - AROUND_S, to_utc_s: event.utc_s + AROUND_S }));
  return [{ words: "whole run", group: "", from_utc_s: null, to_utc_s: null }, ...cycles, ...around];
}

/** What an export or report is, for its row: "Samples as csv, 14:02:09 to 14:02:29". */
export function makingWords({ what, as, from_utc_s, to_utc_s }: Making): string {
  if (what === "run") return "The run as one file";
  if (what === "report") return as === "pdf" ? "Report, PDF" : "Report, a page to print";
  const span = from_utc_s === null && to_utc_s === null ? "whole run" : `${from_utc_s === null ? "its beginning" : clock(from_utc_s)} to ${to_utc_s === null ? "its end" : clock(to_utc_s)}`;
  return `${capital(what === "waveforms" ? "samples" : what)} as ${as}, ${span}`;
}

/** "waiting", "37 % made", "31 MB", or why not. */
export function stateWords({ state, share, bytes, trouble }: Making): string {
  if (state === "failed") return `not made: ${trouble}`;
  if (state === "made") return bytes === null ? "made" : size(bytes);
  return state === "waiting" ? "waiting" : `${Math.floor(share * 100)}\u00a0% made`;
}
