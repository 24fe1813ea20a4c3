/** Round places on an axis. */

/** At most `most` steps of 1, 2 or 5 times a power of ten, from 0 to `end` inclusive. */
export function ticks(end: number, most: number): number[] {
  if (!(end > 0) || most < 1) return [];
  const step = roundStep(end / most);
  const count = Math.floor(end / step + 1e-9);
  return Array.from({ length: count + 1 }, (_, k) => Number((k * step).toPrecision(12)));
}

export function roundStep(least: number): number {
  const power = 10 ** Math.floor(Math.log10(least));
  const times = [1, 2, 5, 10].find((m) => m * power >= least * (1 - 1e-9)) ?? 10;
  return times * power;
}

/** Unit in which a stretch of seconds is read, and its length in seconds. */
export function timeUnit(span_s: number): readonly [string, number] {
  if (span_s < 1) return ["ms", 0.001];
  if (span_s < 120) return ["s", 1];
  return span_s < 3 * 3600 ? ["min", 60] : ["h", 3600];
}
