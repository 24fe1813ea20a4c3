/** What holds on a demo motor that a person teaches with, as the service tells it. Pure. */

export interface Choice {
  readonly key: string;
  readonly says: string;
  readonly values: readonly { readonly value: string; readonly says: string }[] | null; // null: a number
  readonly low: number | null;
  readonly high: number | null;
}

export interface Taught {
  readonly rig: string;
  readonly motor: string;
  readonly teaching: boolean; // the stories stand still
  readonly settings: Readonly<Record<string, string | number>>;
  readonly choices: readonly Choice[];
}

/** The settings that matter most, in the order of the screen; the rest stands behind "more". */
export const FIRST = ["drive", "hall_order", "phase_order", "hall_inverted", "hall_spacing_deg", "lead_order"] as const;

/** The choices of this motor: those first that matter most. */
export function sorted(choices: readonly Choice[]): { first: readonly Choice[]; more: readonly Choice[] } {
  const first = FIRST.map((key) => choices.find((choice) => choice.key === key)).filter((choice) => choice !== undefined);
  return { first, more: choices.filter((choice) => !first.includes(choice)) };
}

/** What a wire's order means in plain words: "BCA" on inputs A B C -> "A: B, B: C, C: A". */
export function orderWords(value: string, places: string): string {
  return value.length === places.length && value !== places ? [...value].map((wire, k) => `${wire} on ${places[k]}`).join(", ") : "";
}
