/** Two runs laid on each other, asked of the service: it plays a few seconds of each. */
import type { Comparison } from "../core/compare";
import { ask } from "./api";

const PATIENCE_MS = 130_000; // each of the two may take a minute on a PC that is busy

/** `at`: at which kind of event; "" leaves it to the service. */
export function compare(runs: readonly [string, string], at: string): Promise<Comparison> {
  const asked = new URLSearchParams([["run", runs[0]], ["run", runs[1]], ...(at ? [["at", at]] : [])]);
  return ask<Comparison>(`api/compare?${asked.toString()}`, { signal: AbortSignal.timeout(PATIENCE_MS) });
}
