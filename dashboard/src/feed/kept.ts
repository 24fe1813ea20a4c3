/** Kept pictures over HTTP: armed, held, drawn again, measured, dropped. `rig`: a rig, or a run that is played. */
import type { Between, Keeping, Kept, KeptTrace } from "../core/kept";
import { keptTraceFrom } from "../core/kept";
import type { Point } from "../core/points";
import { ask, change } from "./api";

const at = (rig: string): string => `api/rigs/${encodeURIComponent(rig)}`;

/** Keeps the newest two seconds for this page. */
export function hold(rig: string): Promise<Kept> {
  return change<Kept>(`${at(rig)}/hold`, {});
}

export async function keptTrace(rig: string, number: number, from_s: number, to_s: number, columns: number): Promise<KeptTrace> {
  return keptTraceFrom(await ask<KeptTrace>(`${at(rig)}/kept/${number}/trace?from_s=${from_s}&to_s=${to_s}&columns=${columns}`));
}

export async function between(rig: string, number: number, one: Point, other: Point): Promise<Between> {
  const asked = `one_s=${one.at_s}&one=${one.channel}&one_at=${one.stand}&other_s=${other.at_s}&other=${other.channel}&other_at=${other.stand}`;
  return (await ask<{ readings: Between }>(`${at(rig)}/kept/${number}/between?${asked}`)).readings;
}

export interface Wanted {
  readonly what: "start" | "crossing";
  readonly before_s: number;
  readonly after_s: number;
  readonly reading?: string;
  readonly above?: boolean;
  readonly level?: number;
}

export function arm(rig: string, wanted: Wanted): Promise<unknown> {
  return change(`${at(rig)}/arm`, wanted);
}

export function disarm(rig: string): Promise<unknown> {
  return change(`${at(rig)}/disarm`, {});
}

export function drop(rig: string, number: number): Promise<Keeping> {
  return change<Keeping>(`${at(rig)}/kept/${number}`, {}, "DELETE");
}
