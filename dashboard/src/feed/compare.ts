/** Two runs laid on each other, asked of the service: it plays a few seconds of each. */
import type { Comparison } from "../core/compare";
import { ask } from "./api";

const PATIENCE_MS = 70_000; // the service itself gives up after a minute

/** `at`: at which kind of event; "" leaves it to the service. */
export function compare(runs: readonly [string, string], at: string, given_up: AbortSignal): Promise<Comparison> {
  const asked = new URLSearchParams([["run", runs[0]], ["run", runs[1]], ...(at ? [["at", at]] : [])]);
  return ask<Comparison>(`api/compare?${asked.toString()}`, { signal: AbortSignal.any([given_up, AbortSignal.timeout(PATIENCE_MS)]) });
}
