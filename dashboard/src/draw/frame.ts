/**
 * One animation frame for the whole page: many may ask, all run together. With reduced motion the
 * frames are half a second apart. A hidden page gets no frames; who must answer anyway does not ask here.
 */

const CALM_MS = 500;

type Job = (now_ms: number) => void;

export class Frame {
  private readonly jobs = new Set<Job>();
  private asked = false;
  private last_ms = -Infinity;
  private readonly calm = matchMedia("(prefers-reduced-motion: reduce)");

  /** Run `job` at the next frame, once, however often it was asked for. */
  request(job: Job): void {
    this.jobs.add(job);
    if (this.asked) return;
    this.asked = true;
    const wait = this.calm.matches ? this.last_ms + CALM_MS - performance.now() : 0;
    if (wait > 0) setTimeout(() => requestAnimationFrame(this.run), wait);
    else requestAnimationFrame(this.run);
  }

  private readonly run = (): void => {
    this.asked = false;
    this.last_ms = performance.now();
    const jobs = [...this.jobs];
    this.jobs.clear();
    for (const job of jobs) job(this.last_ms);
  };
}

export const frame = new Frame();
