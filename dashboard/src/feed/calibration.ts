/** Calibration over HTTP: what is kept, the live reading, measure, keep, undo. Errors come out as sentences. */
import type { Calibration, Entry, Look, Measured, What, Wish } from "../core/calibration";
import { ask, change } from "./api";

const path = (rig: string, more = ""): string => `api/rigs/${encodeURIComponent(rig)}/calibration${more}`;

export function calibration(rig: string): Promise<Calibration> {
  return ask<Calibration>(path(rig));
}

/** The live reading for a wish; the first look begins to gather it. */
export function look(rig: string, { what, channel, against, load }: Wish): Promise<Look> {
  const query = new URLSearchParams({ what, channel: String(channel), ...(against !== undefined && { against: String(against) }), ...(load && { load }) });
  return ask<Look>(path(rig, `/look?${query.toString()}`));
}

/** What it would change; nothing holds before it is kept. */
export function measure(rig: string, wish: Wish): Promise<Measured> {
  return change<Measured>(path(rig, "/measure"), wish);
}

export function keep(rig: string): Promise<Entry> {
  return change<Entry>(path(rig, "/keep"), {});
}

/** The newest of this kind is taken back, and the one before it holds. */
export function undo(rig: string, what: What, channel: number): Promise<Entry> {
  return change<Entry>(path(rig, "/undo"), { what, channel });
}
