/** Alarms over HTTP: acknowledged, shelved, what is watched. */
import type { Alarm, Kinds, Watched } from "../core/alarms";
import { ask, change } from "./api";

const at = (rig: string): string => `api/rigs/${encodeURIComponent(rig)}/alarms`;

export function acknowledge({ rig, id }: Pick<Alarm, "rig" | "id">, note = ""): Promise<unknown> {
  return change(`${at(rig)}/acknowledge`, { id, note });
}

export function shelve(rig: string, alarm: string, for_s: number, reason: string): Promise<unknown> {
  return change(`${at(rig)}/shelve`, { alarm, for_s, reason });
}

export function unshelve(rig: string, alarm: string): Promise<unknown> {
  return change(`${at(rig)}/unshelve`, { alarm });
}

export function watchedAlarms(rig: string): Promise<{ readonly watched: readonly Watched[] }> {
  return ask(at(rig));
}

export function alarmKinds(): Promise<Kinds> {
  return ask<Kinds>("api/alarm-kinds");
}
