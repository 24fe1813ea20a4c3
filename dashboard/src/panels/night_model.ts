/**
 * What the Night screen looks at: a run or a stretch that ends now, how near, and what the service told of it. Asks again
 * as long as something can be new, and keeps what was drawn until the new is there, so that nothing jumps.
 */
import { type ReadonlySignal, batch, computed, signal } from "@preact/signals";
import { type Hole, type Night, PERIODS, type Trends, type Window, endedWindow, growingWindow, isAwaited, isBlank, liveWindow, panned, pauseOf, spells, within, zoomed } from "../core/night";
import { type Life, type RigAlarms, lives, whichStand } from "../core/night_alarms";
import { type SetAlarm, limitsOf } from "../core/night_limits";
import { type Choice, USUAL, bothOf, drawn, limited, nameOf, scaled, shownAs } from "../core/night_readings";
import type { Quantity } from "../core/picture";
import { type WholeRun, settles } from "../core/runs";
import { keyOf } from "../core/shown";
import type { Store } from "../core/store";
import { rateOf } from "../core/units";
import { keptRig } from "../feed/api";
import { type Whose, night, rigAlarms, trends } from "../feed/night";
import { runs, wholeRun } from "../feed/runs";

const KEPT = "slipring-night"; // which readings, by rig
const NIGHT_MS = 10_000; // what it came to, while it goes on
const ALARMS_MS = 3000;
const COLUMNS_MAX = 1200;
const NO_RIG: RigAlarms = { alarms: [], told: [], trouble: "" }; // what was kept with its runs stays

export class NightModel {
  readonly run = signal<WholeRun | null>(null);
  readonly whole = signal<Window | null>(null);
  readonly near = signal<Window | null>(null); // a part of it
  readonly trends = signal<Trends | null>(null);
  readonly night = signal<Night | null>(null);
  readonly alarms = signal<RigAlarms | null>(null);
  readonly trouble = signal("");
  readonly empty = signal(false); // nothing was recorded in all of it
  readonly there = signal<readonly string[] | null>(null); // ids of all readings that any stretch had
  readonly asked_ms = signal<number | null>(null); // since when an answer is waited for
  readonly cursor = signal<number | null>(null); // UTC of the cross line
  readonly marked = signal<Window | null>(null);
  readonly choice = signal<Choice>(USUAL);
  private readonly set = signal<readonly SetAlarm[]>([]); // alarms of its rig as they are set now

  readonly seen = computed(() => this.near.value ?? this.whole.value);
  readonly lives = computed((): readonly Life[] => (this.alarms.value && this.whole.value ? lives(this.alarms.value, this.night.value?.alarms ?? [], this.whole.value) : []));
  readonly usual = computed((): readonly string[] => {
    const picture = this.store.calm.value;
    const own = picture && !picture.playing && picture.rig === this.rig.value;
    const far = this.night.value?.far ?? (own ? picture.far : []);
    const watched = [...(own ? limited(picture.limits) : []), ...this.lives.value.map(({ reading }) => reading).filter(Boolean)];
    return drawn(far, watched, USUAL, this.there.value ?? [...far, ...watched]);
  });
  readonly ids = settled((): readonly string[] => {
    const { added, dropped } = this.choice.value;
    return drawn(this.usual.value, [], { added, dropped }, this.there.value ?? [...this.usual.value, ...added]);
  });
  readonly holes = settled((): readonly Hole[] => this.night.value?.gaps ?? []);
  readonly blank = computed(() => this.trends.value !== null && isBlank(this.trends.value)); // a stretch without recording
  readonly spells = computed(() => (this.trends.value ? spells(this.trends.value, this.holes.value) : []));
  /** A person's limits hold for the rig that is shown; those of another rig's run are not known here. */
  readonly limits = settled(() => {
    const picture = this.store.calm.value;
    const [limits, unitOf] = [picture && picture.rig === this.rig.value ? picture.limits : {}, (id: string): string => this.quantity(id)?.unit ?? ""];
    return limitsOf(this.ids.value, { limits, alarms: this.set.value, lives: this.lives.value, unitOf, rateOf: (id) => this.rateOf(id) });
  });
  readonly rig = computed(() => this.run.value?.rig ?? this.ownRig);

  private columns = 0;
  private turn = 0; // of trends: only the newest answer counts
  private readonly timers = new Map<string, number>();
  private over = false;
  private awaited = false; // the run was left open and waits for its board
  private heldIds = "";

  /** `what`: a run's name, the key of a period, or "" for the run that is recorded or was the last. `ownRig`: the rig that is shown. */
  constructor(readonly store: Store, readonly what: string, private readonly ownRig: string) {}

  get period(): (typeof PERIODS)[number] | undefined {
    return PERIODS.find(({ key }) => key === this.what);
  }

  get live(): boolean {
    return this.period !== undefined || this.run.peek()?.recording === true || this.awaited;
  }

  /** A run that has closed is summed up a while later; then there is more to tell of it. */
  private get settles(): boolean {
    const run = this.run.peek();
    return run !== null && settles(run);
  }

  get whose(): Whose {
    const run = this.run.peek();
    return run ? { run: run.name } : { rig: this.ownRig };
  }

  start(): () => void {
    this.over = false;
    void this.begin();
    return () => {
      this.over = true;
      this.timers.forEach((timer) => clearTimeout(timer));
    };
  }

  /** The drawing's own width decides how many columns are asked for. */
  setColumns(width: number): void {
    const columns = Math.min(Math.max(Math.round(width), 50), COLUMNS_MAX);
    if (columns === this.columns) return;
    this.columns = columns;
    if (this.whole.peek()) void this.lookTrends();
  }

  choose(choice: Choice): void {
    this.choice.value = choice;
    const kept = keptChoices();
    localStorage.setItem(KEPT, JSON.stringify({ ...kept, [this.rig.peek()]: choice }));
    void this.lookTrends();
  }

  quantity(id: string): Quantity | undefined {
    return shownAs(this.store.quantity(keyOf(id)), 1)[0];
  }

  /** What its values are multiplied by to be shown. */
  private rateOf(id: string): number {
    return shownAs(this.store.quantity(keyOf(id)), rateOf({ key: keyOf(id) }, this.store.live.peek()?.speed_unit ?? ""))[1];
  }

  /** Its name beside its line, apart from those of the other lines. */
  nameOf(id: string): string {
    return nameOf(id, this.quantity(id), this.ids.value);
  }

  zoom(nearer: boolean): void {
    const [now, whole] = [this.seen.peek(), this.whole.peek()];
    if (now && whole) this.goTo(zoomed(now, whole, this.cursor.peek() ?? (now.from_utc_s + now.to_utc_s) / 2, nearer));
  }

  pan(share: number): void {
    const [now, whole] = [this.seen.peek(), this.whole.peek()];
    if (now && whole && this.near.peek()) this.goTo(panned(now, whole, share));
  }

  goTo(wanted: Window | null): void {
    const whole = this.whole.peek();
    if (!whole) return;
    const near = wanted && within(wanted, whole);
    batch(() => {
      this.marked.value = null;
      this.near.value = near && near.to_utc_s - near.from_utc_s < 0.999 * (whole.to_utc_s - whole.from_utc_s) ? near : null;
    });
    void this.lookTrends();
  }

  /** Again from the beginning, after trouble. */
  again(): void {
    this.trouble.value = "";
    void this.begin();
  }

  async lookAlarms(): Promise<void> {
    const rig = this.rig.peek();
    if (!rig) return;
    const found = this.isThere(rig) ? await rigAlarms(rig).catch(() => null) : NO_RIG; // of a service that is gone the alarm line tells
    if (!found || this.over) return;
    const before = this.alarms.peek();
    this.alarms.value = found;
    if (before && this.live && whichStand(before) !== whichStand(found)) void this.lookNight().catch(() => undefined); // its answer names the alarm too; else the next turn
    if (this.trends.peek() && this.idsChanged()) void this.lookTrends(); // another reading has an alarm
  }

  private async lookSet(rig: string): Promise<void> {
    if (this.isThere(rig)) this.set.value = await keptRig(rig).then(({ settings }) => Object.values(settings.alarms), () => []);
  }

  private isThere(rig: string): boolean {
    return this.store.calm.peek()?.rigs.some(({ name }) => name === rig) ?? false;
  }

  private async begin(): Promise<void> {
    this.asked_ms.value = performance.now();
    try {
      if (!this.period) await this.findRun();
      if (this.over || (!this.period && !this.run.peek())) return;
      this.choice.value = keptChoices()[this.rig.peek()] ?? USUAL;
      this.setWhole();
      void this.lookSet(this.rig.peek());
      const own = this.store.calm.peek()?.rig === this.rig.peek();
      if (own) void this.lookTrends();
      await Promise.all([this.lookNight(), this.lookAlarms()]);
      if (!own || this.idsChanged()) await this.lookTrends();
    } catch (error) {
      this.failed(error as Error);
      return;
    }
    this.every("alarms", ALARMS_MS, () => this.lookAlarms());
    this.every("night", NIGHT_MS, async () => { if (this.live || this.settles) await this.lookNight(); });
  }

  private async findRun(): Promise<void> {
    const recorded = this.store.calm.peek()?.recording;
    const open = recorded?.state === "recording" || recorded?.state === "gap" ? recorded.run : "";
    const name = this.what || open || (await runs("")).find(({ rig }) => rig === this.ownRig)?.name || "";
    this.empty.value = name === "";
    this.asked_ms.value = name === "" ? null : this.asked_ms.value;
    if (name) this.run.value = await wholeRun(name);
  }

  /** Whether it is another one now. Where a run that was left open ends only the service knows. */
  private setWhole(): boolean {
    const now_utc_s = this.store.calm.peek()?.now_utc_s ?? Date.now() / 1000;
    const run = this.run.peek();
    const whole = this.period ? liveWindow(now_utc_s, this.period.length_s)
      : run && this.live ? growingWindow(run.opened_utc_s, now_utc_s)
      : endedWindow(run, this.night.peek());
    const was = this.whole.peek();
    const moved = whole !== null && (was?.from_utc_s !== whole.from_utc_s || was.to_utc_s !== whole.to_utc_s);
    if (moved) this.whole.value = whole;
    return moved;
  }

  private async lookTrends(): Promise<void> {
    const turn = (this.turn += 1);
    clearTimeout(this.timers.get("trends"));
    this.setWhole();
    const seen = this.seen.peek();
    if (!seen || this.over) return;
    const ids = this.ids.peek();
    this.heldIds = ids.join();
    this.asked_ms.value = performance.now();
    try {
      const told = await trends(this.whose, seen, ids, this.columns || COLUMNS_MAX);
      if (turn !== this.turn || this.over) return;
      batch(() => {
        this.trends.value = scaled(told, (id) => this.rateOf(id));
        this.asked_ms.value = null;
        this.trouble.value = "";
        this.there.value = bothOf(this.there.peek(), told.there);
        this.empty.value = this.near.peek() === null && isBlank(told);
      });
      if (this.idsChanged()) return void this.lookTrends();
    } catch (error) {
      if (turn === this.turn && !this.over) this.failed(error as Error);
    }
    if (this.live) this.after("trends", 1000 * pauseOf(seen, this.columns || COLUMNS_MAX), () => this.lookTrends());
  }

  private async lookNight(): Promise<void> {
    const run = this.run.peek();
    const whole = this.whole.peek();
    if (!whole && !run) return;
    const found = await night(this.whose, whole);
    if (this.over) return;
    this.night.value = found;
    this.awaited = run !== null && isAwaited(run, found, this.store.calm.peek()?.now_utc_s ?? 0);
    const ended = run?.recording && this.store.calm.peek()?.recording.run !== run.name;
    if (run && (ended || this.settles || this.awaited)) this.run.value = await wholeRun(run.name);
    if ((!this.live || !whole) && this.setWhole()) void this.lookTrends();
  }

  private idsChanged(): boolean {
    return this.ids.peek().join() !== this.heldIds;
  }

  private every(name: string, ms: number, look: () => Promise<void>): void {
    this.after(name, ms, async () => {
      await look().catch(() => undefined); // the alarm line tells of a service that is gone
      if (!this.over) this.every(name, ms, look);
    });
  }

  /** What nobody sees is not asked for: a hidden page waits on. */
  private after(name: string, ms: number, look: () => Promise<void>): void {
    clearTimeout(this.timers.get(name));
    this.timers.set(name, window.setTimeout(() => (document.hidden ? this.after(name, ms, look) : void look()), ms));
  }

  private failed(error: Error): void {
    if (this.over) return;
    this.asked_ms.value = null;
    this.trouble.value = error.name === "TimeoutError" ? "The service did not answer in a minute." : error.message;
  }
}

/** Asked for again and again, but new only where it says something else: nothing is painted twice for nothing. */
function settled<T>(make: () => T): ReadonlySignal<T> {
  let before: { readonly its: T; readonly text: string } | null = null;
  return computed(() => {
    const its = make();
    const text = JSON.stringify(its);
    if (before?.text !== text) before = { its, text };
    return before.its;
  });
}

function keptChoices(): Record<string, Choice> {
  try {
    return JSON.parse(localStorage.getItem(KEPT) ?? "{}") as Record<string, Choice>;
  } catch {
    return {};
  }
}
