/** The lists of harmonics, order by order, as a table. Pure; knows no page. */
import { DASH, number, withUnit } from "./format";
import type { Readings, Reading } from "./picture";
import { keyOf, placeOf } from "./shown";

export interface Harmonics {
  readonly readings: Readings;
  readonly limits_a: readonly (number | null)[]; // order 1 first
  readonly limits: string; // what they are, in a sentence
}

type List = readonly number[] | null;

interface Lists {
  readonly rms: List;
  readonly within: List;
  readonly angles: List;
  readonly subgroups: List;
  readonly groups: List;
  readonly between: List; // order 0 first
}

const KEYS = {
  current: ["current_harmonics_a", "current_harmonic_angles_deg", "current_harmonic_subgroups_a", "current_harmonic_groups_a", "current_interharmonic_subgroups_a"],
  voltage: ["voltage_harmonics_v", "voltage_harmonic_angles_deg", "voltage_harmonic_subgroups_v", "voltage_harmonic_groups_v", "voltage_interharmonic_subgroups_v"],
} as const;

export type Side = keyof typeof KEYS;

/** Where there are lists of this side: "" is the main one. */
export function placesOf({ readings }: Harmonics, side: Side): readonly string[] {
  return Object.keys(readings).filter((id) => keyOf(id) === KEYS[side][0]).map(placeOf);
}

export const HEAD: readonly string[] = ["order", "at", "RMS", "± 95 %", "of order 1", "angle", "subgroup", "group", "between it and the next", "class A limit"];

/** A row for each order from 0 on; what is not known is a dash, and an angle of nothing is none. */
export function harmonicRows(all: Harmonics, side: Side, place: string, frequency_hz: number | null): readonly (readonly string[])[] {
  const lists = listsOf(all.readings, side, place);
  const unit = side === "current" ? "A" : "V";
  const amount = (list: List, k: number): string => (list?.[k] === undefined ? DASH : scaled(list[k]!, unit));
  const orders = Math.max(lists.rms?.length ?? 0, lists.subgroups?.length ?? 0);
  const first = lists.rms?.[0];
  return Array.from({ length: orders ? orders + 1 : 0 }, (_, order) => {
    const [k, rms] = [order - 1, lists.rms?.[order - 1]];
    const within = lists.within?.[k];
    const drowned = rms === undefined || (within !== undefined && rms <= within);
    const limit = side === "current" ? all.limits_a[k] : null;
    return [
      String(order),
      frequency_hz === null ? DASH : withUnit(number(order * frequency_hz, 1), "Hz"),
      ...(rms === undefined || within === undefined ? [amount(lists.rms, k), DASH] : together(rms, within, unit)),
      rms === undefined || !first ? DASH : withUnit(number((100 * rms) / first, 2), "%"),
      drowned || lists.angles?.[k] === undefined ? DASH : withUnit(number(lists.angles[k]!, 1), "°"),
      amount(lists.subgroups, k),
      amount(lists.groups, k),
      amount(lists.between, order),
      limit === null || limit === undefined ? "" : scaled(limit, "A"),
    ];
  });
}

/** 1.23 A, 45.6 mA, 0.78 mA: in the unit in which three figures say what there is. */
export function scaled(value: number, unit: string): string {
  if (Math.abs(value) >= 0.9995) return withUnit(number(value, value >= 99.95 ? 1 : 3), unit);
  return withUnit(number(value * 1000, value >= 0.0995 ? 0 : value >= 0.00995 ? 1 : 3), `m${unit}`);
}

/** A value and its ± in one unit, to two figures of the ±. */
export function together(value: number, within: number, unit: string): readonly [string, string] {
  const [times, its] = Math.abs(value) >= 0.9995 ? [1, unit] : [1000, `m${unit}`];
  const digits = within > 0 ? Math.min(6, Math.max(0, 1 - Math.floor(Math.log10(within * times)))) : 3;
  return [withUnit(number(value * times, digits), its), withUnit(number(within * times, digits), its)];
}

function listsOf(readings: Readings, side: Side, place: string): Lists {
  const [rms, angles, subgroups, groups, between] = KEYS[side].map((key) => readings[place ? `${key}.${place}` : key]);
  return { rms: list(rms), within: rms?.u95 instanceof Array ? (rms.u95 as readonly number[]) : null, angles: list(angles), subgroups: list(subgroups), groups: list(groups), between: list(between) };
}

function list(reading: Reading | undefined): List {
  const usable = reading && reading.confidence !== "absent" && reading.aged !== "absent" && Array.isArray(reading.value);
  return usable ? (reading.value as readonly number[]) : null;
}

/** Why lists are doubtful or not there, each reason once. */
export function reasonsOf({ readings }: Harmonics, side: Side, place: string): readonly string[] {
  const its = KEYS[side].map((key) => readings[place ? `${key}.${place}` : key]).filter((each) => each?.reason);
  return [...new Set(its.map((each) => `${each!.confidence}: ${each!.reason}`))];
}
