/** Recorded runs over HTTP: found, read, noted, deleted and brought back, played. */
import type { Deleted, Run, WholeRun } from "../core/runs";
import type { Playing } from "../core/picture";
import { ask, change } from "./api";

export function runs(words: string): Promise<readonly Run[]> {
  return ask<readonly Run[]>(`api/runs?words=${encodeURIComponent(words)}`);
}

export function wholeRun(name: string): Promise<WholeRun> {
  return ask<WholeRun>(pathOf(name));
}

export function deletedRuns(): Promise<readonly Deleted[]> {
  return ask<readonly Deleted[]>("api/runs/deleted");
}

export function writeNote(name: string, note: string): Promise<unknown> {
  return change(`${pathOf(name)}/note`, { note }, "PUT");
}

export function writeTags(name: string, tags: readonly string[]): Promise<unknown> {
  return change(`${pathOf(name)}/tags`, { tags }, "PUT");
}

export function deleteRun(name: string): Promise<unknown> {
  return change(pathOf(name), {}, "DELETE");
}

/** Brings a deleted run back. */
export function undoDelete(name: string): Promise<unknown> {
  return change(`${pathOf(name)}/undo`, {});
}

/** Removes a deleted run for good, or all of them where none is named. */
export function removeForGood(name = ""): Promise<unknown> {
  return change("api/runs/deleted/empty", { run: name });
}

export function endRun(rig: string): Promise<unknown> {
  return change(`api/rigs/${encodeURIComponent(rig)}/run`, { action: "end" });
}

/** Plays a run, perhaps from a moment; answers with the name of the rig that it is seen under. */
export async function playRun(run: string, utc_s: number | null = null): Promise<string> {
  return (await change<{ rig: string }>("api/plays", { run, utc_s })).rig;
}

export interface PlayChange {
  readonly paused?: boolean;
  readonly pace?: number;
  readonly utc_s?: number;
  readonly calibration?: Playing["calibration"];
}

export function changePlay(run: string, wanted: PlayChange): Promise<unknown> {
  return change(`api/plays/${encodeURIComponent(run)}`, wanted, "PUT");
}

export function stopPlay(run: string): Promise<unknown> {
  return change(`api/plays/${encodeURIComponent(run)}`, {}, "DELETE");
}

function pathOf(name: string): string {
  return `api/runs/${encodeURIComponent(name)}`;
}
