/** How a board's channels are calibrated, as the service tells it, and how its figures are written. Pure. */
import { DASH, number, rough, withUnit } from "./format";

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

/** Decimals that end where the uncertainty ends: two figures of it (JCGM 100, 7.2.6). */
export function decimals(u95: number): number {
  if (!(u95 > 0)) return 3;
  const digits = 1 - Math.floor(Math.log10(u95));
  return Math.min(Math.max(Number(u95.toPrecision(2)) >= 10 ** (2 - digits) ? digits - 1 : digits, 0), DIGITS_MAX);
}

/** 3.99987 and 0.0113 -> "4.000 ± 0.011 A"; where the uncertainty is not known, that is said. */
export function withUncertainty(value: number, u95: number | null, unit: string): string {
  if (u95 === null) return `${rough(value, unit)}, ± is not known`;
  if (u95 === 0) return rough(value, unit);
  const digits = decimals(u95);
  return `${number(value, digits)} ± ${withUnit(number(u95, digits), unit)}`;
}

/** What a person sees of the live reading: its value and how much it scatters. */
export function lookWords(look: Look, what: What): string {
  if (look.mean === null || look.rms === null) return DASH;
  if (what === "angle") return look.lead_deg === null ? "no angle yet" : `the current ${look.lead_deg < 0 ? "lags" : "leads"} by ${withUnit(number(Math.abs(look.lead_deg), 3), "°")}`;
  const digits = decimals(look.scatter ?? 0);
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
