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

/** What moves the shaft, by the service's word for it: short enough for a list. Others are said as they come. */
const DRIVES: Readonly<Record<string, string>> = {
  off: "power off, held still",
  coast: "power off, let go",
  spin: "a driver spins it and lets go",
  hand_forward: "a hand, forward",
  hand_backward: "a hand, backward",
  hand_back_and_forth: "a hand, back and forth",
  hand_one_turn: "a hand, one turn",
  hand_two_turns_each_way: "a hand, two turns each way",
  drive_1_a: "drive, 12 V, limit 1 A",
  drive_3_a: "drive, 12 V, limit 3 A",
};

export function driveWords(value: string): string {
  return DRIVES[value] ?? value.replaceAll("_", " ");
}

/** Named, as the service tells a share from 0 to 1 by the same two ends. */
const SWITCHES = /_open$|^hall_joined_high$|^jammed$/;

/** On or off: a number with nothing between its ends that would mean anything. */
export function isSwitch({ key, values, low, high }: Choice): boolean {
  return values === null && low === 0 && high === 1 && SWITCHES.test(key);
}

const UNITS: readonly (readonly [string, string])[] = [["_deg", "°"], ["_hz", "Hz"], ["_us", "µs"], ["_n_m_s", "N m s"], ["_kg_m2", "kg m²"], ["_n_m", "N m"], ["_rpm", "r/min"], ["_ohm", "Ω"], ["_a", "A"], ["_v", "V"], ["_c", "°C"], ["_factor", "times"]];

/** Parts of a whole, from 0 to 1. */
const SHARES: readonly string[] = ["duty", "load_pulsation", "edges_missed", "edges_doubled"];

/** The unit that the name of a number ends in, or "". */
export function unitOf({ key, values }: Pick<Choice, "key" | "values">): string {
  if (values !== null) return "";
  return SHARES.includes(key) ? "(1: all)" : (UNITS.find(([end]) => key.endsWith(end))?.[1] ?? "");
}
