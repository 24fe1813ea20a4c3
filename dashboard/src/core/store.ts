/**
 * What the page knows, as signals: the newest picture, the one that is held, and a calm copy for all
 * words and numbers, so that whatever is read together is of one moment. The socket fills it, one
 * commit an animation frame; panels read it.
 */
import { batch, computed, signal } from "@preact/signals-core";
import { agedReadings, ageOf, sampleAge, silence } from "./ageing";
import { SILENT, announce } from "./announce";
import { cautions } from "./cautions";
import { moved } from "./moved";
import type { Hello, Picture, Quantity, Strip } from "./picture";
import { isStarting, keyOf } from "./shown";
import { Steady } from "./steadied";
import { RPM, pictureIn, quantityIn, stripIn } from "./units";
import type { Asked } from "./visitor";

/**
 * Numbers change once a second while nothing happens, twice a second while the picture moves. After a quiet second the
 * first move is told as soon as may be: what changes then has happened, and is not noise.
 */
const CALM_MS = 1000;
const MOVING_MS = 500;
const SOON_MS = 100;
const QUIET_MS = 950;

export interface Link {
  readonly state: "opening" | "open" | "closed";
  readonly lost_utc_s: number | null; // the service's clock when the socket closed
  readonly retry_ms: number | null; // the page's clock at the next try
  readonly what: string; // for whoever asks what went wrong
}

export interface Held {
  readonly picture: Picture;
  readonly at_ms: number;
}

export class Store {
  readonly hello = signal<Hello | null>(null);
  readonly link = signal<Link>({ state: "opening", lost_utc_s: null, retry_ms: null, what: "" });
  readonly live = signal<Picture | null>(null);
  readonly held = signal<Held | null>(null);
  readonly strip = signal<Strip | null>(null);
  readonly received_ms = signal(0);
  readonly now_ms = signal(0); // follows `tick`, a few times a second, not each frame
  readonly calm = signal<Picture | null>(null);
  readonly told = signal(SILENT);
  readonly asked = signal<Asked>({ questions: [], at_ms: 0 });

  /** What the drawings show: the held picture, else the newest. */
  readonly shown = computed(() => this.held.value?.picture ?? this.live.value);
  readonly linked = computed(() => this.link.value.state === "open");
  readonly silence_s = computed(() => silence(this.received_ms.value, this.now_ms.value));
  readonly age_s = computed(() => {
    const picture = this.live.value;
    return picture && sampleAge(picture, this.received_ms.value, this.now_ms.value);
  });
  /** What the alarm line says, the worst first. */
  readonly cautions = computed(() => {
    const picture = this.calm.value;
    const { state, lost_utc_s } = this.link.value;
    return picture ? cautions(picture, this.silence_s.value, state === "open" ? null : lost_utc_s) : [];
  });
  /** Drawings are faint when what they show is no longer so. */
  readonly faint = computed(() => {
    const state = this.live.value?.connection.state;
    return !this.linked.value || ageOf(this.silence_s.value) !== "" || (state !== "live" && state !== undefined);
  });

  /** Apart from the picture: who asks for a quantity is not drawn again with each of them. */
  private readonly speedUnit = computed(() => this.live.value?.speed_unit ?? RPM);
  private watched = ""; // the rig that was shown last and is none that is played
  private calmAt_ms = -Infinity;
  private before_ms = -Infinity; // the change of numbers before that one
  private readonly steady = new Steady();
  private sentStrip: Strip | null = null; // as it came, in r/min

  /** Take the newest picture; `received_ms` and `now_ms` are the page's monotonic clock. */
  commit(sent: Picture, received_ms: number, now_ms: number): void {
    batch(() => {
      const picture = pictureIn(sent);
      const before = this.live.value;
      const other = before !== null && (before.rig !== picture.rig || before.playing?.jumps !== picture.playing?.jumps);
      const turned = before !== null && before.speed_unit !== picture.speed_unit;
      if (other || turned) {
        this.held.value = null;
        this.steady.forget();
      }
      if (sent.strip || other) this.sentStrip = sent.strip;
      if (sent.strip || other || turned) this.strip.value = this.sentStrip && stripIn(this.sentStrip, picture.speed_unit);
      this.live.value = picture;
      if (!picture.playing && picture.rig) this.watched = picture.rig;
      this.received_ms.value = received_ms;
      this.pace(other || before === null || changed(before, picture), now_ms);
    });
  }

  /** Time passes: ages what is shown although nothing comes. Called a few times a second. */
  tick(now_ms: number): void {
    batch(() => {
      this.now_ms.value = now_ms;
      this.pace(false, now_ms);
    });
  }

  setLink(link: Link, now_ms: number): void {
    batch(() => {
      const turned = link.state !== this.link.value.state;
      this.link.value = link;
      this.now_ms.value = now_ms;
      if (turned) this.pace(true, now_ms);
    });
  }

  toggleHold(now_ms: number): void {
    const picture = this.live.value;
    this.held.value = this.held.value || !picture ? null : { picture, at_ms: now_ms };
  }

  /** What is shown when a run is played no more: the rig that was watched before, else the run's own; "": whichever the service shows. */
  afterPlaying(own: string): string {
    const there = (this.live.value?.rigs ?? []).filter(({ playing }) => !playing).map(({ name }) => name);
    return [this.watched, own].find((name) => there.includes(name)) ?? "";
  }

  quantity(key: string): Quantity | undefined {
    const quantity = this.hello.value?.quantities.find((each) => each.key === key);
    return quantity && quantityIn(quantity, this.speedUnit.value);
  }

  /** All of the catalogue, as they are shown. */
  quantities(): readonly Quantity[] {
    return (this.hello.value?.quantities ?? []).map((each) => quantityIn(each, this.speedUnit.value));
  }

  private pace(atOnce: boolean, now_ms: number): void {
    const picture = this.live.value;
    if (!picture) return;
    this.told.value = announce(this.told.value, picture, this.linked.value, this.cautions.value[0], now_ms);
    const waited_ms = now_ms - this.calmAt_ms;
    const quiet = this.calmAt_ms - this.before_ms >= QUIET_MS;
    const early = waited_ms < (quiet ? SOON_MS : MOVING_MS) || now_ms - this.before_ms < CALM_MS;
    if (!atOnce && early) return;
    const aged = { ...picture, readings: agedReadings(picture.readings, silence(this.received_ms.value, now_ms)) };
    if (!atOnce && waited_ms < CALM_MS && !this.hasMoved(aged)) return;
    this.calm.value = { ...aged, readings: this.steady.take(aged.readings, (id) => this.quantity(keyOf(id)), isStarting(aged.readings)) };
    this.before_ms = this.calmAt_ms;
    this.calmAt_ms = now_ms;
    this.now_ms.value = now_ms;
  }

  private hasMoved(aged: Picture): boolean {
    const before = this.calm.value;
    return before === null || moved(before, aged, (id) => this.quantity(keyOf(id))?.digits ?? 0);
  }
}

/** What a person must see at once, whatever the pace: another state of motor, wire or recording, what happened. */
function changed(before: Picture, after: Picture): boolean {
  return (
    before.connection.state !== after.connection.state ||
    before.recording.state !== after.recording.state ||
    before.playing?.state !== after.playing?.state ||
    before.readings["run_state"]?.value !== after.readings["run_state"]?.value ||
    before.speed_unit !== after.speed_unit ||
    before.events[0]?.text !== after.events[0]?.text ||
    alarmKeys(before) !== alarmKeys(after)
  );
}

function alarmKeys({ alarms }: Picture): string {
  return alarms.standing.map(({ id, acknowledged, ended_utc_s, more }) => `${id} ${acknowledged !== null} ${ended_utc_s} ${more}`).join();
}
