/**
 * How the readings of a calm picture are written, each beside how it was written before, so that far line, table and
 * drawings say the same digits and none of them dances. Remembers a few values of each reading; nothing else.
 */
import { slipDigits } from "./format";
import type { Quantity, Reading, Readings } from "./picture";
import { type Interval, type Rounded, rounded } from "./rounding";

/** As it stands in the table, and as it stands where there is room for few digits: far line and drawings. */
export interface Steadied {
  readonly table: Rounded;
  readonly short: Rounded;
}

interface Known extends Steadied {
  readonly recent: readonly number[]; // newest last
  readonly halves: readonly number[]; // of what the last few may be off by
}

const RECENT = 16;
/** Times the middle of the bends, which is 1.65 standard deviations of a normal noise: four of them. */
const SCATTER = 2.4;
const BENDS_MIN = 4;
/** ± from few edges is small in one window and large in the next: the largest of so many is told. */
const HALVES = 5;

export class Steady {
  private known = new Map<string, Known>();

  forget(): void {
    this.known.clear();
  }

  /** The readings, each with how it is written. `quantityOf`: by key. */
  take(readings: Readings, quantityOf: (id: string) => Quantity | undefined, starting: boolean): Readings {
    const now = new Map<string, Known>();
    const written = Object.entries(readings).map(([id, reading]): [string, Reading] => {
      const quantity = quantityOf(id);
      const value = quantity && numeric(reading);
      if (!quantity || value === null || value === undefined) return [id, reading];
      const before = this.known.get(id);
      const recent = [...(before?.recent ?? []), value].slice(-RECENT);
      const half = intervalOf(reading)?.half;
      const halves = half === undefined ? [] : [...(before?.halves ?? []), half].slice(-HALVES);
      const steadied = steadiedOf(quantity, reading, starting, before, SCATTER * middleBend(recent), Math.max(0, ...halves));
      now.set(id, { ...steadied, recent, halves });
      return [id, { ...reading, steadied }];
    });
    this.known = now;
    return Object.fromEntries(written);
  }
}

/** How a reading that is a number is written. `scatter`, and `least`, which ± is not below, in the unit of the value. */
export function steadiedOf(quantity: Quantity, reading: Reading, starting: boolean, before?: Steadied, scatter = 0, least = 0): Steadied {
  const scale = scaleOf(quantity);
  const value = (reading.value as number) * scale;
  const most = mostDigits(quantity, value, starting);
  const interval = atLeast(intervalOf(reading, scale), value, least * scale);
  const sum = SUMS.includes(quantity.key);
  const changing = sum || (starting && quantity.key === "slip"); // a slip changes within its own window
  return {
    table: rounded(value, interval, most, changing, before?.table, scatter * scale),
    short: rounded(value, interval, most, true, before?.short, scatter * scale),
  };
}

export function numeric({ value, least, confidence, aged }: Reading): number | null {
  return typeof value === "number" && Number.isFinite(value) && least === undefined && confidence !== "absent" && aged !== "absent" ? value : null;
}

/** A slip is a fraction by definition and is written in per cent. */
export function scaleOf({ key }: Pick<Quantity, "key">): number {
  return key === "slip" ? 100 : 1;
}

function mostDigits({ key, digits }: Quantity, value: number, starting: boolean): number {
  return key === "slip" ? slipDigits(value, starting) : digits;
}

/** They begin at nothing with each start, and ± with them: the first digits of that are of no use. */
const SUMS: readonly string[] = ["energy_wh", "charge_ah"];

/** An interval that no bound cuts is widened to what the last ones were. */
function atLeast(interval: Interval | null, value: number, half: number): Interval | null {
  if (!interval || half <= interval.half || Math.abs(interval.low + interval.high - 2 * value) > 1e-6 * interval.half) return interval;
  return { half, low: value - half, high: value + half };
}

export function intervalOf({ value, u95, low95, high95 }: Reading, scale = 1): Interval | null {
  if (typeof value !== "number" || typeof u95 !== "number" || !(u95 > 0)) return null;
  return { half: u95 * scale, low: (low95 ?? value - u95) * scale, high: (high95 ?? value + u95) * scale };
}

/** The middle one of how far three neighbours are off a straight line: neither what creeps counts, nor one jump. */
function middleBend(values: readonly number[]): number {
  const bends = values.slice(2).map((value, k) => Math.abs(value - 2 * values[k + 1]! + values[k]!)).sort((a, b) => a - b);
  return bends.length < BENDS_MIN ? 0 : bends[Math.floor(bends.length / 2)]!;
}
