/**
 * A scale that stands still: it grows at once, so that nothing is cut off, and where it is asked for further than it
 * must, so that a start makes it step seldom. It shrinks only after the data has been small for some seconds, and then to
 * the largest of them. Steps are geometric, so a drawing that has settled uses three fifths of its height at least.
 */

/** One step of slack before shrinking, so that a peak on the edge does not rock the picture. */
const SLACK = 1.3;
const SHRINK_AFTER_MS = 4000;
export class SteadyScale {
  private full = 0;
  private smallSince_ms: number | null = null;
  private most = 0; // that was wanted since then

  /** `ends` gives the end of the scale, one of few, for data that reaches so far; `room` is for what grows on. */
  constructor(private readonly ends: (peak: number) => number = geometric, private readonly room = 1) {}

  /** End of the scale for data that reaches `peak` (> 0), at this moment. */
  take(peak: number, now_ms: number): number {
    if (!(peak > 0)) return this.full || this.ends(1);
    const wanted = this.ends(peak);
    if (wanted > this.full) return this.set(this.full ? this.ends(peak * this.room) : wanted);
    if (wanted * SLACK >= this.full) {
      this.smallSince_ms = null;
      this.most = 0;
      return this.full;
    }
    this.smallSince_ms ??= now_ms;
    this.most = Math.max(this.most, wanted);
    return now_ms - this.smallSince_ms > SHRINK_AFTER_MS ? this.set(this.most) : this.full;
  }

  private set(full: number): number {
    this.smallSince_ms = null;
    this.most = 0;
    this.full = full;
    return full;
  }
}

/** Steps of a quarter. */
function geometric(peak: number): number {
  return 1.25 ** Math.ceil(Math.log(peak * 1.02) / Math.log(1.25));
}
