/**
 * Columns of lowest and highest sample: thinned to the pixels there are, searched for a place to
 * write a name. NaN is "no value". No peak is ever lost.
 */

export interface Columns {
  readonly low: Float32Array;
  readonly high: Float32Array;
}

/** Lowest of the lows and highest of the highs in `count` groups; the same arrays if they are few enough. */
export function thin(columns: Columns, count: number): Columns {
  const { low, high } = columns;
  if (low.length <= count || count < 1) return columns;
  const thinned = { low: new Float32Array(count).fill(NaN), high: new Float32Array(count).fill(NaN) };
  for (let k = 0; k < low.length; k++) {
    const to = Math.floor((k * count) / low.length);
    if (!(thinned.low[to]! <= low[k]!)) thinned.low[to] = Number.isNaN(low[k]!) ? thinned.low[to]! : low[k]!;
    if (!(thinned.high[to]! >= high[k]!)) thinned.high[to] = Number.isNaN(high[k]!) ? thinned.high[to]! : high[k]!;
  }
  return thinned;
}

/** Largest distance from zero; 0 where there is no value. */
export function reach(columns: Columns): number {
  let far = 0;
  for (const value of columns.low) if (-value > far) far = -value;
  for (const value of columns.high) if (value > far) far = value;
  return far;
}

/** First column at or after `from` where the line passes `level`, rising or falling; -1 where it does not. */
export function crossing(columns: Columns, level: number, rising: boolean, from: number): number {
  const { low, high } = columns;
  for (let k = Math.max(1, from); k < low.length; k++) {
    const before = (low[k - 1]! + high[k - 1]!) / 2;
    const here = (low[k]! + high[k]!) / 2;
    if (rising ? before < level && here >= level : before > level && here <= level) return k;
  }
  return -1;
}

/** Whether each of so many equal stretches reaches at least half as far as the others: no supply came or went in it. */
export function repeats({ low, high }: Columns, stretches: number): boolean {
  const reaches = Array.from({ length: stretches }, (_, k) => {
    const [from, to] = [k, k + 1].map((each) => Math.round((each * low.length) / stretches));
    return reach({ low: low.subarray(from, to), high: high.subarray(from, to) });
  });
  return Math.min(...reaches) > 0.5 * Math.max(...reaches);
}
