/**
 * A scale that stands still: it grows at once, so that nothing is cut off, and shrinks only after the
 * data has been small for a while. Steps are geometric, so a drawing uses at least half of its height.
 */

/** One step of slack before shrinking, so that a peak on the edge does not rock the picture. */
const SLACK = 1.3;
const SHRINK_AFTER_MS = 1500;

export class SteadyScale {
  private full = 0;
  private smallSince_ms: number | null = null;

  /** `ends` gives the end of the scale, one of few, for data that reaches so far. */
  constructor(private readonly ends: (peak: number) => number = geometric) {}

  /** End of the scale for data that reaches `peak` (> 0), at this moment. */
  take(peak: number, now_ms: number): number {
    if (!(peak > 0)) return this.full || this.ends(1);
    const wanted = this.ends(peak);
    if (wanted > this.full) return this.set(wanted);
    if (wanted * SLACK >= this.full) {
      this.smallSince_ms = null;
      return this.full;
    }
    this.smallSince_ms ??= now_ms;
    return now_ms - this.smallSince_ms > SHRINK_AFTER_MS ? this.set(wanted) : this.full;
  }

  private set(full: number): number {
    this.smallSince_ms = null;
    this.full = full;
    return full;
  }
}

/** Steps of a quarter: the drawing uses at least three quarters of its height once it has settled. */
function geometric(peak: number): number {
  return 1.25 ** Math.ceil(Math.log(peak * 1.02) / Math.log(1.25));
}
