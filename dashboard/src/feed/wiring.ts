/** The wiring of a rig over HTTP: looked at again and again while its screen is open; acts of the guided check. */
import { type Signal, useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import type { Answers, Names, Wiring } from "../core/wiring";
import { ask, change } from "./api";

const LOOK_MS = 400; // samples bring something new five times a second; a hand is slower

export interface Told {
  readonly act: string;
  readonly answers?: Partial<Answers> & Names;
  readonly showed?: string;
  readonly choice?: number;
  readonly at?: string; // the step that was open when it was pressed
}

export interface Looked {
  readonly wiring: Signal<Wiring | null>;
  readonly tell: (told: Told) => Promise<void>;
  readonly anew: () => Promise<void>;
}

/** What is known now; "": no rig. A service that is gone is told elsewhere on the page. */
export function useWiring(rig: string): Looked {
  const wiring = useSignal<Wiring | null>(null);
  useEffect(() => {
    wiring.value = null;
    if (!rig) return;
    let over = false;
    let timer = 0;
    const look = async (): Promise<void> => {
      const found = document.hidden ? null : await ask<Wiring>(pathOf(rig, "wiring")).catch(() => null);
      if (over) return;
      if (found) wiring.value = found;
      timer = window.setTimeout(() => void look(), LOOK_MS);
    };
    void look();
    return () => { over = true; clearTimeout(timer); };
  }, [rig]);
  const take = async (doing: Promise<Wiring>): Promise<void> => { wiring.value = await doing; };
  return {
    wiring,
    tell: (told) => take(change<Wiring>(pathOf(rig, "check"), told)),
    anew: () => take(change<Wiring>(pathOf(rig, "wiring/anew"), {})),
  };
}

export interface Kept {
  readonly run: string;
  readonly number: number;
}

/** Keeps verdicts, figures and steps beside the run. */
export function keepCheck(rig: string): Promise<Kept> {
  return change<Kept>(pathOf(rig, "check/keep"), {});
}

/** Where the page of a kept check is. */
export function checkPage({ run, number }: Kept): string {
  return `${checksPath(run)}/${number}`;
}

export interface CheckLine {
  readonly number: number;
  readonly kept_utc_s: number;
  readonly word: string;
  readonly below: string;
  readonly steps: number;
}

export interface DeletedCheck extends CheckLine {
  readonly deleted_utc_s: number;
  readonly removed_utc_s: number;
}

export interface RunChecksKept {
  readonly kept: readonly CheckLine[];
  readonly deleted: readonly DeletedCheck[];
}

/** The checks of a run, and those that were deleted and can be brought back. */
export async function checksOf(run: string): Promise<RunChecksKept> {
  const [kept, deleted] = await Promise.all([ask<readonly CheckLine[]>(checksPath(run)), ask<readonly DeletedCheck[]>(`${checksPath(run)}/deleted`)]);
  return { kept, deleted };
}

export function deleteCheck(where: Kept): Promise<unknown> {
  return change(checkPage(where), {}, "DELETE");
}

export function undoDeleteCheck(where: Kept): Promise<unknown> {
  return change(`${checkPage(where)}/undo`, {});
}

function checksPath(run: string): string {
  return `api/runs/${encodeURIComponent(run)}/checks`;
}

function pathOf(rig: string, what: string): string {
  return `api/rigs/${encodeURIComponent(rig)}/${what}`;
}
