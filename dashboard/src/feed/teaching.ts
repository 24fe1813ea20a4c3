/** Teaching mode of a demo rig over HTTP. */
import type { Taught } from "../core/teaching";
import { ask, change } from "./api";

export function taught(rig: string): Promise<Taught> {
  return ask<Taught>(pathOf(rig));
}

/** Changes settings of the model; what is left out stays. */
export function teach(rig: string, settings: Readonly<Record<string, string | number>>): Promise<Taught> {
  return change<Taught>(`${pathOf(rig)}/settings`, { settings }, "PUT");
}

/** All is healthy again and the stories go on. */
export function playStories(rig: string): Promise<Taught> {
  return change<Taught>(`${pathOf(rig)}/stories`, {});
}

function pathOf(rig: string): string {
  return `api/rigs/${encodeURIComponent(rig)}/demo`;
}
