/** What a reading is made of, as the service tells it. */
import { ask } from "./api";

export interface Part {
  readonly source: string;
  readonly standard: number; // standard uncertainty by it, in the unit of the reading
}

export interface Budget {
  readonly id: string;
  readonly quantity: {
    readonly definition: string;
    readonly source: string;
    readonly needs: string;
    readonly motors: readonly string[]; // empty: all
  };
  readonly window_s: number;
  readonly at_utc_s: number;
  readonly coverage_factor: number | null;
  readonly parts: readonly Part[];
  readonly why_not: string; // why nothing is known of what it may be off by
}

export function budgetOf(rig: string, id: string): Promise<Budget> {
  return ask<Budget>(`api/rigs/${encodeURIComponent(rig)}/readings/${encodeURIComponent(id)}`);
}
