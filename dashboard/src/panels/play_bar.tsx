/** What is played of a run: a strip from end to end with its events, where it is now, and what moves it. */
import { signal, useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { clock, day, duration } from "../core/format";
import type { Playing } from "../core/picture";
import { nextEvent, type WholeRun } from "../core/runs";
import type { Store } from "../core/store";
import { calibrationWords } from "../core/words";
import { RunStrip, STRIP_HEIGHT, placeOf } from "../draw/run_strip";
import { watchWidth } from "../draw/drawing";
import { Waiting } from "./waiting";
import { type PlayChange, changePlay, stopPlay, wholeRun } from "../feed/runs";

const PACES = [[0.1, "10 times slower"], [0.5, "2 times slower"], [1, "as it was"], [2, "2 times as fast"], [10, "10 times as fast"], [30, "30 times as fast"], [100, "100 times as fast"]] as const;
const CALIBRATIONS = [["then", "of its time"], ["today", "today\u2019s"], ["none", "none"]] as const;
const STEP_S = 5; // of an arrow key
const PAGE = 0.1; // of the run, of Page up and down

const stepping = signal<((forward: boolean) => void) | null>(null); // of the bar that is shown

/** To the event before or after, where a run is played. */
export function toEvent(forward: boolean): void {
  stepping.peek()?.(forward);
}

interface Props {
  readonly store: Store;
  readonly playing: Playing;
  readonly onStopped: (playing: Playing) => void;
}

export function PlayBar({ store, playing, onStopped }: Props): JSX.Element {
  const run = useSignal<WholeRun | null>(null);
  const trouble = useSignal("");
  useEffect(() => {
    run.value = null;
    wholeRun(playing.run).then((whole) => { run.value = whole; }, (error: Error) => { trouble.value = error.message; });
  }, [playing.run]);
  const now = (): number => playing.sought_utc_s ?? store.live.peek()?.now_utc_s ?? playing.from_utc_s;
  const act = (doing: Promise<unknown>): void => {
    trouble.value = "";
    doing.catch((error: Error) => { trouble.value = error.message; });
  };
  const set = (wanted: PlayChange): void => {
    if (store.held.peek()) store.toggleHold(performance.now()); // what is asked for is to be seen
    act(changePlay(playing.run, wanted));
  };
  const jump = (forward: boolean): void => {
    const event = nextEvent(run.value?.events ?? [], now(), forward);
    if (event) set({ utc_s: event.utc_s });
  };
  useEffect(() => {
    stepping.value = jump;
    return () => { stepping.value = null; };
  });
  const still = playing.state === "paused" || playing.state === "ended";
  const said = trouble.value || (playing.trouble && `Playing ended: ${playing.trouble}.`);
  return (
    <section class="sheet playbar" aria-label="Playing a recorded run">
      <Position store={store} playing={playing} run={run.value} onSeek={(utc_s) => set({ utc_s })} />
      <div class="row">
        <button class="btn first" onClick={() => set({ paused: !still })}>{still ? (playing.state === "ended" ? "Play again" : "Play") : "Pause"}</button>
        <label class="row"><span>Time passes</span>
          <select value={String(playing.pace)} onChange={(event) => set({ pace: Number(event.currentTarget.value) })}>
            {PACES.map(([pace, words]) => <option key={pace} value={String(pace)}>{words}</option>)}
          </select>
        </label>
        <label class="row"><span>Calibration</span>
          <select value={playing.calibration} onChange={(event) => set({ calibration: event.currentTarget.value as Playing["calibration"] })}>
            {CALIBRATIONS.map(([which, words]) => <option key={which} value={which}>{words}</option>)}
          </select>
        </label>
        <button class="btn" disabled={!run.value?.events.length} onClick={() => jump(false)}>Event before</button>
        <button class="btn" disabled={!run.value?.events.length} onClick={() => jump(true)}>Next event</button>
        <button class="btn" onClick={() => { onStopped(playing); act(stopPlay(playing.run)); }}>Stop playing</button>
        <Into store={store} playing={playing} />
      </div>
      {playing.state === "seeking" && <Waiting key={playing.jumps} what="Playing up to this place" />}
      {said && <p class="trouble" role="alert">{said}</p>}
    </section>
  );
}

/** "14:05:16, 3 min 06 s into the run, with the calibration of its time" */
function Into({ store, playing }: { store: Store; playing: Playing }): JSX.Element {
  const at_utc_s = playing.sought_utc_s ?? store.shown.value?.now_utc_s ?? playing.from_utc_s;
  return <span class="second into">{intoWords(playing, at_utc_s)}, {calibrationWords(playing)}</span>;
}

function intoWords(playing: Playing, at_utc_s: number): string {
  return `${clock(at_utc_s)}, ${duration(Math.max(0, Math.floor(at_utc_s - playing.from_utc_s)))} into the run`;
}

interface PositionProps {
  readonly store: Store;
  readonly playing: Playing;
  readonly run: WholeRun | null;
  readonly onSeek: (utc_s: number) => void;
}

/** The strip as a slider: pressed anywhere, or moved by the keys of one. */
function Position({ store, playing, run, onSeek }: PositionProps): JSX.Element {
  const box = useRef<HTMLDivElement>(null);
  const width = useSignal(0);
  useEffect(() => watchWidth(box.current!, (px) => { width.value = Math.floor(px); }), []);
  const { from_utc_s, to_utc_s } = playing;
  const now = (): number => playing.sought_utc_s ?? store.live.peek()?.now_utc_s ?? from_utc_s;
  const press = (event: PointerEvent): void => {
    const { left, width: wide } = box.current!.getBoundingClientRect();
    onSeek(from_utc_s + ((event.clientX - left) / wide) * (to_utc_s - from_utc_s));
  };
  const key = (event: KeyboardEvent): void => {
    const page = PAGE * (to_utc_s - from_utc_s);
    const to = { ArrowLeft: now() - STEP_S, ArrowRight: now() + STEP_S, ArrowDown: now() - STEP_S, ArrowUp: now() + STEP_S, PageDown: now() - page, PageUp: now() + page, Home: from_utc_s, End: to_utc_s }[event.key];
    if (to === undefined) return;
    event.preventDefault();
    onSeek(to);
  };
  const at_utc_s = playing.sought_utc_s ?? store.calm.value?.now_utc_s ?? from_utc_s;
  return (
    <div
      ref={box} class="position plot" style={{ height: `${STRIP_HEIGHT}px` }} role="slider" tabIndex={0} aria-label="Position in the run"
      aria-valuemin={0} aria-valuemax={Math.round(to_utc_s - from_utc_s)} aria-valuenow={Math.round(at_utc_s - from_utc_s)}
      aria-valuetext={`${day(at_utc_s)} ${intoWords(playing, at_utc_s)}`} onPointerDown={press} onKeyDown={key}
    >
      {width.value > 0 && <RunStrip width={width.value} from_utc_s={from_utc_s} to_utc_s={to_utc_s} overview={run?.overview ?? null} events={run?.events ?? []} gaps={run?.gaps ?? []} />}
      <Marker store={store} playing={playing} />
    </div>
  );
}

/** Moves with each picture; nothing else is drawn again for it. */
function Marker({ store, playing }: { store: Store; playing: Playing }): JSX.Element {
  const place = placeOf(playing.sought_utc_s ?? store.shown.value?.now_utc_s ?? playing.from_utc_s, playing.from_utc_s, playing.to_utc_s);
  return (
    <svg class="here" viewBox="0 0 20 58" width="20" height={STRIP_HEIGHT} aria-hidden="true" style={{ left: `calc(${(place * 100).toFixed(3)}% - 10px)` }}>
      <path class="link" d="M10 4V56" /><path class="ink" d="M2 1h16v6l-8 7-8-7z" />
    </svg>
  );
}
