/**
 * What a person does with the picture of Watch: more or fewer cycles, a held or kept picture looked at closely, two points
 * set on it. One for the page. The samples stay with the service: it draws stretches and measures between the points.
 */
import { batch, computed, effect, signal } from "@preact/signals";
import type { Between, Kept, KeptTrace } from "../core/kept";
import type { Picture, Trace } from "../core/picture";
import { type Point, firstPoints, freed, moved, onOtherLine, snapped } from "../core/points";
import type { Held, Store } from "../core/store";
import { between, hold, keptTrace } from "../feed/kept";

export const ZOOMS = [1, 2, 3, 6, 12, 25] as const;
const USUAL = 3;
const COLUMNS = 1200;
const SPAN_MIN_S = 0.0005;

export type Points = readonly [Point | null, Point | null];

/** The kept picture behind the held one. */
interface Source {
  readonly rig: string;
  readonly number: number;
  readonly span_s: number;
  readonly start_utc_s: number;
  readonly text: string; // "" where a person held it
  readonly moment_s: number | null; // what it was kept for
}

export class Measure {
  readonly cycles = signal<number>(USUAL);
  readonly source = signal<Source | null>(null);
  readonly points = signal<Points>([null, null]);
  readonly found = signal<Between | null>(null);
  readonly trouble = signal("");
  readonly both = computed(() => this.points.value[0] !== null && this.points.value[1] !== null);

  private store: Store | null = null;
  private zoomLive: (cycles: number) => void = () => undefined;
  private ours: Held | null = null;
  private asked = 0;

  /** Called once, when the page begins. */
  start(store: Store, zoomLive: (cycles: number) => void): void {
    [this.store, this.zoomLive] = [store, zoomLive];
    effect(() => {
      const held = store.held.value;
      if (held === this.ours) return;
      this.ours = held;
      this.forget();
      if (held?.picture.trace) void this.holdIt(held);
    });
  }

  /** The picture that is held, as points can be set on it; null while there is none. */
  get trace(): KeptTrace | null {
    const trace = this.source.value ? this.store?.held.value?.picture.trace : null;
    return trace && "from_s" in trace ? (trace as KeptTrace) : null;
  }

  /** More or less time in the picture. */
  zoom(more: boolean): void {
    const trace = this.trace;
    if (trace) return this.closeUp(trace, more);
    if (this.store?.held.value) return;
    const at = ZOOMS.indexOf(this.cycles.value as (typeof ZOOMS)[number]) + (more ? 1 : -1);
    const cycles = ZOOMS[at];
    if (cycles === undefined) return;
    this.cycles.value = cycles;
    this.zoomLive(cycles);
  }

  /** Half of what is seen earlier or later. */
  move(later: boolean): void {
    const trace = this.trace;
    if (trace) this.show(trace.from_s + ((later ? 1 : -1) * trace.span_s) / 2, trace.span_s);
  }

  /** A point is pressed where it stands, or set; with two set the nearer one moves. `reach_s`: what is near enough to snap. */
  press(channel: number, at_s: number, reach_s: number): void {
    const trace = this.trace;
    if (!trace) return;
    const points = this.points.value;
    const away = points.map((point) => (point ? Math.abs(point.at_s - at_s) : Infinity));
    const nearer = away[0]! <= away[1]! ? 0 : 1;
    if (away[nearer]! <= reach_s && points[nearer]!.channel === channel) return this.free(nearer);
    const which = points[0] === null ? 0 : points[1] === null ? 1 : nearer;
    this.set(which, snapped(trace, channel, at_s, reach_s));
  }

  /** A point that snapped stands free from now on, and a free one snaps to the nearest stop. */
  free(which: number): void {
    const [trace, point] = [this.trace, this.points.value[which]];
    if (!trace || !point) return;
    this.set(which, point.stand === "free" ? snapped(trace, point.channel, point.at_s, trace.span_s / 40) : freed(trace, point.channel, point.at_s));
  }

  step(which: number, forward: boolean, fine: boolean): void {
    const [trace, point] = [this.trace, this.points.value[which]];
    if (trace && point) this.set(which, moved(trace, point, forward, fine));
  }

  otherLine(which: number, down: boolean): void {
    const [trace, point] = [this.trace, this.points.value[which]];
    if (trace && point) this.set(which, onOtherLine(trace, point, down));
  }

  /** Two points to begin with, for whoever has no pointer. */
  begin(): void {
    const first = this.trace && firstPoints(this.trace);
    if (!first) return;
    this.points.value = first;
    this.measure();
  }

  clear(): void {
    batch(() => {
      this.points.value = [null, null];
      this.found.value = null;
    });
  }

  /** A picture that was kept on purpose, as if it were held now. */
  async showKept(kept: Kept): Promise<void> {
    const [store, live] = [this.store, this.store?.live.peek()];
    if (!store || !live) return;
    const source = { rig: live.rig, number: kept.number, span_s: kept.span_s, start_utc_s: kept.start_utc_s, text: kept.text, moment_s: kept.moment_s };
    const found = await this.answer(keptTrace(live.rig, kept.number, 0, kept.span_s, COLUMNS));
    if (!found || store.live.peek()?.rig !== live.rig) return;
    batch(() => {
      this.forget();
      this.put({ ...live, readings: {}, hall: null, trace: found });
      this.source.value = source;
    });
  }

  private async holdIt(held: Held): Promise<void> {
    const trace = held.picture.trace!;
    const kept = await this.answer(hold(held.picture.rig));
    if (!kept || this.ours !== held) return;
    const from_s = trace.start_utc_s - kept.start_utc_s;
    const found = await this.answer(keptTrace(held.picture.rig, kept.number, from_s, from_s + trace.span_s, COLUMNS));
    if (!found || this.ours !== held) return;
    batch(() => {
      const { lines, gaps } = found;
      this.put({ ...held.picture, trace: { ...trace, lines, gaps, from_s } as KeptTrace }, held.at_ms);
      this.source.value = { rig: held.picture.rig, number: kept.number, span_s: kept.span_s, start_utc_s: kept.start_utc_s, text: "", moment_s: null };
    });
  }

  /** Round the points, else round the middle. */
  private closeUp(trace: KeptTrace, more: boolean): void {
    const set = this.points.value.filter((point) => point !== null);
    const middle = set.length ? set.reduce((sum, { at_s }) => sum + at_s, 0) / set.length : trace.from_s + trace.span_s / 2;
    const span_s = Math.max(trace.span_s * (more ? 2 : 0.5), SPAN_MIN_S);
    this.show(middle - span_s / 2, span_s);
  }

  private show(from_s: number, span_s: number): void {
    const [source, held] = [this.source.value, this.ours];
    if (!source || !held) return;
    const span = Math.min(span_s, source.span_s);
    const from = Math.min(Math.max(from_s, 0), source.span_s - span);
    const turn = ++this.asked;
    void this.answer(keptTrace(source.rig, source.number, from, from + span, COLUMNS)).then((trace: Trace | null) => {
      if (trace && turn === this.asked && this.source.value === source) this.put({ ...held.picture, trace }, held.at_ms);
    });
  }

  private put(picture: Picture, at_ms = performance.now()): void {
    this.ours = { picture, at_ms };
    this.store!.held.value = this.ours;
  }

  private set(which: number, point: Point): void {
    const [one, other] = this.points.value;
    this.points.value = which === 0 ? [point, other] : [one, point];
    this.measure();
  }

  private measure(): void {
    const [[one, other], source] = [this.points.value, this.source.value];
    if (!one || !other || !source) return;
    const turn = ++this.asked;
    void this.answer(between(source.rig, source.number, one, other)).then((found) => {
      if (turn === this.asked && this.both.value) this.found.value = found;
    });
  }

  private forget(): void {
    this.asked += 1;
    this.source.value = null;
    this.trouble.value = "";
    this.clear();
  }

  private async answer<T>(asking: Promise<T>): Promise<T | null> {
    try {
      const found = await asking;
      this.trouble.value = "";
      return found;
    } catch (error) {
      this.trouble.value = error instanceof Error ? error.message : String(error);
      return null;
    }
  }
}

export const measure = new Measure();
