/** Which readings of a night are drawn, in which scale, and what stands beside their lines. Pure. */
import { number, plain, withUnit } from "./format";
import type { Band, Trends } from "./night";
import type { Limits, Quantity } from "./picture";
import { placeWords } from "./rows";
import { keyOf, placeOf } from "./shown";

export const DRAWN_MAX = 40; // what one picture of a night may ask for

/** What a person added to the usual readings and took away from them. */
export interface Choice {
  readonly added: readonly string[];
  readonly dropped: readonly string[];
}

export const USUAL: Choice = { added: [], dropped: [] };

/** Words, which have no line. */
const WORDS: readonly string[] = ["run_state", "speed_source", "direction", "commutation_valid", "state_order", "power_factor_sense", "current_phase_order", "voltage_phase_order", "hall_state"];
const ORDER = [/^(phase_)?current_/, /speed_rpm$/, /^voltage_/];

export function hasLine(id: string): boolean {
  return !WORDS.includes(keyOf(id));
}

/**
 * The motor's main readings, current first, then those with a limit or an alarm, then what a person wants, as far as they are there. Of a mean and an
 * RMS that one is drawn by itself which is among the main readings: of direct current they are nearly the same.
 */
export function drawn(far: readonly string[], watched: readonly string[], choice: Choice, there: readonly string[]): string[] {
  const rank = (id: string): number => (ORDER.findIndex((pattern) => pattern.test(keyOf(id))) + ORDER.length + 1) % (ORDER.length + 1);
  const main = [...far].sort((one, other) => rank(one) - rank(other));
  const own = main.map((id) => orTwin(id, there));
  const wanted = [...new Set([...own, ...watched.filter((id) => twinOf(id) === id || !own.includes(twinOf(id))), ...choice.added])];
  return wanted.filter((id) => hasLine(id) && there.includes(id) && !choice.dropped.includes(id)).slice(0, DRAWN_MAX);
}

/** Readings of one stretch and of another: one without recording has none, and what is drawn stays. */
export function bothOf(before: readonly string[] | null, more: readonly string[]): readonly string[] {
  return [...new Set([...(before ?? []), ...more])];
}

/** Where a run has no RMS of it the mean is meant, and the other way round. */
function orTwin(id: string, there: readonly string[]): string {
  const twin = twinOf(id);
  return !there.includes(id) && there.includes(twin) ? twin : id;
}

/** The mean of what is an RMS, and the other way round; of all else itself. */
export function twinOf(id: string): string {
  return id.includes("_rms_") ? id.replace("_rms_", "_mean_") : id.replace("_mean_", "_rms_");
}

/** A reading drawn or not drawn any more. */
export function toggled(choice: Choice, id: string, usual: readonly string[], on: boolean): Choice {
  const without = (ids: readonly string[]): string[] => ids.filter((each) => each !== id);
  const isUsual = usual.includes(id);
  return {
    added: on && !isUsual ? [...without(choice.added), id] : without(choice.added),
    dropped: !on && isUsual ? [...without(choice.dropped), id] : without(choice.dropped),
  };
}

/** Ids of those that have a limit on either side. */
export function limited(limits: Limits): string[] {
  return Object.entries(limits).flatMap(([id, ends]) => (ends[0] === null && ends[1] === null ? [] : [id]));
}

export type Role = "current" | "speed" | "voltage" | "power";

/** The colour of a quantity goes by what it is; all others are ink. */
export function roleOf(id: string): Role {
  const key = keyOf(id);
  return /_a$/.test(key) ? "current" : /speed_rpm$/.test(key) ? "speed" : /_v$/.test(key) ? "voltage" : "power";
}

/** "commutator noise", "current, phase U": beside its line. `drawn`: all that have a line; where both are, a mean and an RMS are told apart. */
export function nameOf(id: string, quantity: Quantity | undefined, drawn: readonly string[]): string {
  const short = SHORT[keyOf(id)];
  const alike = drawn.some((other) => other !== id && other === twinOf(id));
  return short && !alike ? withPlace(short, id) : labelOf(id, quantity);
}

/** In a list of all of them: an RMS and a mean are told apart. */
export function labelOf(id: string, quantity: Quantity | undefined): string {
  return withPlace(quantity?.label ?? plain(keyOf(id)), id);
}

function withPlace(name: string, id: string): string {
  const place = placeOf(id);
  return place ? `${name}, ${placeWords(place)}` : name;
}

/** So short a name says enough where a line stands beside its unit. */
const SHORT: Readonly<Record<string, string>> = {
  speed_rpm: "speed", current_rms_a: "current", current_mean_a: "current", voltage_rms_v: "voltage", voltage_mean_v: "voltage", commutator_noise_a: "commutator noise",
};

/** Lowest and highest of the band where it has anything. */
export function extent({ low, high }: Pick<Band, "low" | "high">): readonly [number, number] | null {
  let [least, most] = [Infinity, -Infinity];
  for (let k = 0; k < low.length; k += 1) {
    if (low[k]! < least) least = low[k]!;
    if (high[k]! > most) most = high[k]!;
  }
  return least <= most ? [least, most] : null;
}

export const TRUSTED = 0.5; // of less than half of a column the line is broken, and its value doubtful

/** The mean of the last column that has one, whether it is doubtful, and the sign where it is only a bound. */
export interface Last {
  readonly value: number;
  readonly doubtful: boolean;
  readonly bound: Band["bound"];
}

export function lastOf({ mean, trusted, bound }: Pick<Band, "mean" | "trusted" | "bound">): Last | null {
  for (let k = mean.length - 1; k >= 0; k -= 1) if (!Number.isNaN(mean[k]!)) return { value: mean[k]!, doubtful: trusted[k]! < TRUSTED, bound };
  return null;
}

/** "≤ 12 r/min": a speed is at most that, whichever way it turns. */
export function lastWords({ value, bound }: Last, quantity: Quantity | undefined): string {
  return bound ? `${bound}\u00a0${valueWords(bound === "≤" ? Math.abs(value) : value, quantity)}` : valueWords(value, quantity);
}

export interface Scale {
  readonly low: number;
  readonly high: number;
  readonly limits: readonly number[]; // those that are drawn
  readonly beyond: readonly number[]; // those that lie too far off
}

const FLAT = 0.04; // of its size: less is not blown up to fill the strip
const REACH = 1.5; // times what the data take: a limit further off would make a line of them

/** A range frame: as far as the data went, and the limits where they are near. */
export function scaleOf(reached: readonly [number, number], ends: readonly (number | null)[]): Scale {
  const [least, most] = reached;
  const span = Math.max(most - least, FLAT * Math.max(Math.abs(least), Math.abs(most)), 1e-6);
  const middle = (least + most) / 2;
  const known = ends.filter((end) => end !== null);
  const near = known.filter((end) => end > middle - span * (0.5 + REACH) && end < middle + span * (0.5 + REACH));
  return {
    low: Math.min(middle - span / 2, ...near),
    high: Math.max(middle + span / 2, ...near),
    limits: near,
    beyond: known.filter((end) => !near.includes(end)),
  };
}

/** A value in the digits of its quantity. */
export function valueWords(value: number, quantity: Quantity | undefined): string {
  return withUnit(figure(value, quantity), quantity?.unit ?? "");
}

/** Without the unit. A slip is shown in per cent, and told as a share. */
export function figure(value: number, quantity: Quantity | undefined): string {
  return number(value, digitsOf(quantity));
}

function digitsOf(quantity: Quantity | undefined): number {
  return Math.min(quantity?.digits ?? 2, quantity?.unit === "A" || quantity?.unit === "V" ? 2 : 3);
}

/** "3.61 to 5.80" */
export function rangeWords([low, high]: readonly [number, number], quantity: Quantity | undefined): string {
  return `${figure(low, quantity)} to ${figure(high, quantity)}`;
}

const PERCENT = 100;

/** As it is shown: speeds in the rig's unit, a slip in per cent. `rate`: what its values are multiplied by. */
export function shownAs(quantity: Quantity | undefined, rate: number): readonly [Quantity | undefined, number] {
  return quantity?.key === "slip" ? [{ ...quantity, unit: "%", digits: 2 }, PERCENT] : [quantity, rate];
}

/** All bands in the units in which they are shown. */
export function scaled(trends: Trends, rateOf: (id: string) => number): Trends {
  const readings = Object.fromEntries(Object.entries(trends.readings).map(([id, band]) => {
    const rate = rateOf(id);
    const by = (values: Float32Array): Float32Array => (rate === 1 ? values : values.map((value) => value * rate));
    return [id, { low: by(band.low), high: by(band.high), mean: by(band.mean), trusted: band.trusted, bound: band.bound }];
  }));
  return { ...trends, readings };
}
