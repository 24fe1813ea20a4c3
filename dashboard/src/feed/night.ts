/** A night over HTTP: trends, what it came to, alarms, the test plan, its report as a file. */
import type { Night, Trends, Window } from "../core/night";
import type { RigAlarms } from "../core/night_alarms";
import type { Judgement, PlanTest } from "../core/night_words";
import { unpackTrends } from "../core/unpack";
import { ask, askBytes, change } from "./api";

const PATIENCE_MS = 60_000; // of months there is much to read

/** Of a run, or of all runs of a rig. */
export type Whose = { readonly run: string } | { readonly rig: string };

const pathOf = (whose: Whose, what: string): string => ("run" in whose ? `api/runs/${encodeURIComponent(whose.run)}/${what}` : `api/rigs/${encodeURIComponent(whose.rig)}/${what}`);

export async function trends(whose: Whose, { from_utc_s, to_utc_s }: Window, ids: readonly string[], columns: number): Promise<Trends> {
  const query = new URLSearchParams([["from", String(from_utc_s)], ["to", String(to_utc_s)], ["columns", String(columns)], ...ids.map((id) => ["ids", id])]);
  return unpackTrends(await askBytes(`${pathOf(whose, "trends")}?${query.toString()}`, PATIENCE_MS));
}

/** A run is told whole, a rig in a window. */
export function night(whose: Whose, window: Window | null): Promise<Night> {
  const span = "run" in whose || !window ? "" : `?from=${window.from_utc_s}&to=${window.to_utc_s}`;
  return ask<Night>(pathOf(whose, "night") + span, { signal: AbortSignal.timeout(PATIENCE_MS) });
}

export function rigAlarms(rig: string): Promise<RigAlarms> {
  return ask<RigAlarms>(pathOf({ rig }, "alarms"));
}

/** How many cycles a run had; null where it was not summed up yet. */
export function cyclesOf(run: string): Promise<number | null> {
  return ask<{ readonly starts: number }>(pathOf({ run }, "cycles")).then(({ starts }) => starts, () => null);
}

export interface Plan {
  readonly file: string;
  readonly tables: { readonly test?: PlanTest } | null;
  readonly refused: string;
}

export function planOf(rig: string): Promise<Plan> {
  return ask<Plan>(pathOf({ rig }, "plan"));
}

export function judgementOf(rig: string): Promise<Judgement> {
  return ask<Judgement>(pathOf({ rig }, "plan/judgement"));
}

/** A report that is made: `share` of it from 0 to 1, and its file once `state` is made. */
export interface Making {
  readonly number: number;
  readonly state: "waiting" | "making" | "made" | "failed";
  readonly share: number;
  readonly file: string | null;
  readonly file_name: string;
  readonly trouble: string;
}

export function makeReport(run: string): Promise<Making> {
  return change<Making>(pathOf({ run }, "report"), { as: "pdf", paper: "a4" });
}

export async function makingOf(number: number): Promise<Making | undefined> {
  return (await ask<readonly Making[]>("api/exports")).find((each) => each.number === number);
}
