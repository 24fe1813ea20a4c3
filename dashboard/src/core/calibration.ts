/** How a board's channels are calibrated, as the service tells it, and how its figures are written. Pure. */
import { DASH, number, withUnit } from "./format";
import { decimalsOf } from "./rounding";

export const WHATS = ["zero", "gain", "angle"] as const;
export type What = (typeof WHATS)[number];

export interface Entry {
  readonly what: What;
  readonly made_utc_s: number;
  readonly reference: string;
  readonly value: number;
  readonly u95: number;
  readonly frequency_hz: number | null;
  readonly undone_utc_s: number | null;
  readonly holds: boolean;
}

export interface CalibratedChannel {
  readonly channel: number; // its number on the board
  readonly role: string;
  readonly name: string;
  readonly place: string;
  readonly unit: string;
  readonly words: Readonly<Partial<Record<What, string>>>; // what holds, in a sentence; a kind that makes no sense is missing
  readonly entries: readonly Entry[]; // the newest first
}

export interface Guide {
  readonly about: string;
  readonly cautions: readonly string[];
  readonly steps: readonly string[];
}

export interface Calibration {
  readonly described: boolean; // the board has said what it measures
  readonly serial: string;
  readonly file: string;
  readonly refusal: string;
  readonly channels: readonly CalibratedChannel[];
  readonly guides: Readonly<Record<What, Guide>>;
  readonly loads: readonly { readonly key: string; readonly words: string }[];
}

/** The live reading; `refusal`: why it is not fit for the calibration now, or "". */
export interface Look {
  readonly pieces: number;
  readonly of: number;
  readonly mean: number | null;
  readonly rms: number | null;
  readonly scatter: number | null;
  readonly lead_deg: number | null;
  readonly hertz: number | null;
  readonly unit: string;
  readonly refusal: string;
}

export interface Wish {
  readonly what: What;
  readonly channel: number;
  readonly against?: number;
  readonly load?: string;
  readonly reference?: number | string | null;
  readonly uncertainty?: number | string | null;
  readonly is_limit?: boolean;
  readonly words?: string;
}

export interface Measured {
  readonly what: What;
  readonly unit: string;
  readonly before: number;
  readonly before_u95: number | null;
  readonly after: number;
  readonly after_u95: number | null;
  readonly wanted: number;
  readonly parts: readonly { readonly source: string; readonly standard: number }[];
}

const DIGITS_MAX = 9;
const DIGITS_STILL = 3; // where nothing scatters

/** What a person sees of the live reading: its value and how much it scatters. */
export function lookWords(look: Look, what: What): string {
  if (look.mean === null || look.rms === null) return DASH;
  if (what === "angle") return look.lead_deg === null ? "no angle yet" : `the current ${look.lead_deg < 0 ? "lags" : "leads"} by ${withUnit(number(Math.abs(look.lead_deg), 3), "°")}`;
  const digits = look.scatter ? Math.min(Math.max(decimalsOf(look.scatter), 0), DIGITS_MAX) : DIGITS_STILL;
  const direct = what === "zero" || Math.abs(look.mean) > 0.9 * look.rms;
  const [word, value] = direct ? ["mean", look.mean] : ["RMS", look.rms];
  const scatter = look.scatter ? `, scatter ${withUnit(number(look.scatter, digits), look.unit)}` : "";
  return `${word} ${withUnit(number(value, digits), look.unit)}${scatter}`;
}

/** How much of the three seconds has been seen. */
export function seenWords({ pieces, of }: Look): string {
  return pieces === of ? "three seconds seen" : `${number((3 * pieces) / of, 1)} of 3.0\u00a0s seen`;
}

/** A channel in a line: which calibrations hold. */
export function heldWords(channel: CalibratedChannel): string {
  const held = channel.entries.filter(({ holds }) => holds).map(({ what }) => what);
  return held.length ? `${WHATS.filter((what) => held.includes(what)).join(", ")} calibrated` : "not calibrated";
}
