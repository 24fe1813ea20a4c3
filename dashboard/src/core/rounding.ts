/**
 * Digits end where the uncertainty ends (JCGM 100, 7.2.6: two digits of it at most): two of ± where its first is 1 or 2,
 * else one, and the value stops at the same place. A value that was shown stays while it still says the same: the last
 * digit must not dance. Pure.
 */
import { number, rough, withUnit } from "./format";

/** What a value may be off by: half the width of the interval, and its ends where a bound cuts it. */
export interface Interval {
  readonly half: number;
  readonly low: number;
  readonly high: number;
}

export interface Rounded {
  readonly value: number;
  readonly decimals: number; // below 0: tens, hundreds
  readonly off: Off | null; // null where it is not known
}

/** What it may be off by, rounded: half a width where `cut` is null, else two ends. */
export interface Off {
  readonly half: number;
  readonly cut: readonly [number, number] | null;
}

/** ± in steps of the last digit: from where on a digit less says enough, and as long as it may stay as it was. */
const MOST = 30;
const STAYS = [2, 45] as const;
/** Of ±: what is less than this share may be cut off it, more is rounded up (as the two examples of JCGM 100, 7.2.6). */
const CUT = 1 / 50;
/** Half a step is rounding; at least a quarter more and it is another value, where no interval says it at most half a step more. */
const MORE = [0.25, 0.5] as const;
/** An interval that is askew by less than this share of its half is written with ±; by how much, if it was written with its ends. */
const ASKEW = { ends: 0.05, first: 0.1, half: 0.2 } as const;
/** What is written as being off by so much stays until it is less than this share of it. */
const WIDE = 0.55;
const FREE = 9; // decimals at most where ± alone ends a number

/** Decimals that ± of this half width allows; `kept` stays while ± still has one digit there, or two. */
export function decimalsOf(half: number, kept?: number): number {
  const steps = kept === undefined ? 0 : half * 10 ** kept;
  if (kept !== undefined && steps >= STAYS[0] && steps < STAYS[1]) return kept;
  return Math.ceil(Math.log10(MOST / half) - 1e-9) - 1;
}

/**
 * A value as it is written. `most`: decimals at most, `loose`: and where ± would allow more it is not held inside the
 * interval; `kept`: how it was written before; `scatter`: how far noise alone may throw it.
 */
export function rounded(value: number, interval: Interval | null, most: number, loose: boolean, kept?: Rounded, scatter = 0): Rounded {
  const allowed = interval && decimalsOf(interval.half, kept?.decimals);
  const decimals = allowed === null ? most : loose ? Math.min(most, allowed) : allowed;
  const step = 10 ** -decimals;
  const inside = interval && decimals === allowed ? interval : null;
  const band = 0.5 * step + Math.max(MORE[0] * step, inside ? scatter : Math.min(scatter, MORE[1] * step));
  const stays = kept?.decimals === decimals && Math.abs(value - kept.value) <= band && isInside(kept.value, inside);
  return { value: stays ? kept.value : nearest(value, decimals, inside), decimals, off: interval && offOf(value, interval, decimals, kept?.decimals === decimals ? kept.off : null) };
}

function isInside(value: number, interval: Interval | null): boolean {
  return !interval || (value >= interval.low && value <= interval.high);
}

/** The nearest value of so many decimals, the next one where a bound is between. */
function nearest(value: number, decimals: number, interval: Interval | null): number {
  const at = (steps: number): number => Number((steps * 10 ** -decimals).toPrecision(15));
  const steps = value * 10 ** decimals;
  const found = at(Math.round(steps));
  if (isInside(found, interval)) return found;
  return found > value ? at(Math.floor(steps)) : at(Math.ceil(steps));
}

function offOf(value: number, interval: Interval, decimals: number, kept: Off | null): Off {
  const { half, low, high } = interval;
  const limit = kept ? ASKEW[kept.cut ? "ends" : "half"] : ASKEW.first;
  if (Math.abs(low + high - 2 * value) > limit * half) return { half, cut: endsOf(interval, decimals, kept?.cut ?? null) };
  const needed = Math.max(half, high - value, value - low);
  if (kept && !kept.cut && (1 - CUT) * needed <= kept.half && needed >= WIDE * kept.half) return kept;
  const steps = needed * 10 ** decimals;
  return { half: Math.max(Math.round(steps), Math.ceil((1 - CUT) * steps)) * 10 ** -decimals, cut: null };
}

function endsOf({ half, low, high }: Interval, decimals: number, kept: Off["cut"]): readonly [number, number] {
  const give = CUT * half;
  if (kept && low >= kept[0] - give && high <= kept[1] + give && high - low >= WIDE * (kept[1] - kept[0])) return kept;
  const outward = (end: number, round: (steps: number) => number): number => round(Number((end * 10 ** decimals).toPrecision(12))) * 10 ** -decimals;
  return [outward(low, Math.floor), outward(high, Math.ceil)];
}

/** "±0.013", "0 to 0.012", or "" where it is not known. */
export function plusMinus({ off, decimals }: Pick<Rounded, "off" | "decimals">): string {
  const write = (end: number): string => (end === 0 ? "0" : number(end, Math.max(0, decimals)));
  if (!off) return "";
  return off.cut ? `${write(off.cut[0])} to ${write(off.cut[1])}` : `±${write(off.half)}`;
}

/** Its text: tens and hundreds end in zeros. */
export function writtenAs({ value, decimals }: Pick<Rounded, "value" | "decimals">): string {
  return number(value, Math.max(0, decimals));
}

/** 3.99987 and 0.0113 -> "4.000 ± 0.011 A"; where the uncertainty is not known, that is said. */
export function withUncertainty(value: number, u95: number | null, unit: string): string {
  if (u95 === null) return `${rough(value, unit)}, ± is not known`;
  if (u95 === 0) return rough(value, unit);
  const found = rounded(value, { half: u95, low: value - u95, high: value + u95 }, FREE, true);
  return `${writtenAs(found)} ${withUnit(plusMinus(found).replace("±", "± "), unit)}`;
}
