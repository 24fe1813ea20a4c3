/** Alarms of all rigs and cautions that are so now, the worst first: always there, always in the same place. */
import { signal } from "@preact/signals";
import type { JSX, RefObject } from "preact";
import { useEffect, useLayoutEffect, useRef } from "preact/hooks";
import { type Alarm, NO_ALARMS, actWords, calls, isSo, mustSayItWatches, spoken, standWords, whyWords } from "../core/alarms";
import type { Store } from "../core/store";
import { calibrationWords } from "../core/words";
import { AlarmMark, CautionMark } from "../draw/marks";
import { acknowledge } from "../feed/alarms";
import { call } from "../feed/sound";

const STEADY_MS = 300; // after the block has moved what is below it: a finger may be on its way to something else
const SHORT_ACT = 20; // letters: a longer one is set smaller, beside its reason
const opened = signal(false);

/** Key A: to what can be done about the worst; Enter then does it. */
export function toAlarm(): void {
  const line = document.querySelector<HTMLElement>(".alarmline");
  const found = [".standing .btn", ".all .btn", ".standing button"].map((one) => line?.querySelector<HTMLElement>(one)).find(Boolean);
  (found ?? line)?.focus();
}

export function AlarmLine({ store }: { store: Store }): JSX.Element {
  const cautions = store.cautions.value;
  const picture = store.calm.value;
  const { standing, more } = picture?.alarms ?? NO_ALARMS;
  const worst = standing[0];
  const others = standing.length - 1 + more;
  const shown = picture?.playing ? "" : (picture?.rig ?? "");
  const urgent = worst?.rank === "alarm";
  const box = useRef<HTMLElement>(null);
  useSteady(box, worst ? `${worst.rank} ${isSo(worst)}` : "");
  const calling = standing.some(calls);
  useEffect(() => call(calling), [calling]);
  useEffect(() => { if (!worst) opened.value = false; }, [!worst]);
  useLayoutEffect(() => (opened.value ? closedByEscape(box) : undefined), [opened.value]); // from the moment it is seen on
  const kind = urgent ? (isSo(worst) ? " alarm" : " alarm ended") : worst || cautions.length ? " caution" : "";
  return (
    <section ref={box} class={`alarmline${kind}`} aria-label="Alarms and cautions" tabIndex={-1}>
      {worst && <Standing key={worst.id} alarm={worst} shown={shown} playing={Boolean(picture?.playing)} linked={store.linked.value} others={others} />}
      {worst && opened.value && <Others alarms={standing} shown={shown} more={more} linked={store.linked.value} />}
      {cautions.length > 0 && (
        <div class="cautions"><CautionMark /><ul>{cautions.map(({ key, bold, rest }) => <li key={key}><b>{bold}</b> {rest}</li>)}</ul></div>
      )}
      {!worst && !cautions.length && <span>{calmWords(store)}</span>}
      <p class="sr" aria-live="assertive">{spoken(picture?.alarms ?? NO_ALARMS, shown)}</p>
    </section>
  );
}

function calmWords(store: Store): string {
  const playing = store.calm.value?.playing;
  if (playing) return `A recording of ${playing.rig}: what is shown was so then, computed ${calibrationWords(playing)}.`;
  return "No alarms. Slipring only watches; it is no safety device.";
}

interface StandingProps {
  readonly alarm: Alarm;
  readonly shown: string; // the rig that is
  readonly playing: boolean; // a recording is shown, and the alarm is of now
  readonly linked: boolean;
  readonly others: number;
}

/** The worst: what to do first, large; then why. */
function Standing({ alarm, shown, playing, linked, others }: StandingProps): JSX.Element {
  return (
    <div class="standing">
      {alarm.rank === "alarm" ? <AlarmMark /> : <CautionMark />}
      <p class="t">
        <b class={`call${actWords(alarm, shown).length > SHORT_ACT ? " long" : ""}`}>{playing && "Now, on "}{actWords(alarm, shown)}</b>
        <span>{playing && "This is of now, not of the recording. "}{whyWords(alarm)} {mustSayItWatches(alarm) && <small>Slipring never stops a motor.</small>}</span>
      </p>
      {(others > 0 || alarm.acknowledged === null) && (
        <button class="as-table others" aria-expanded={opened.value} onClick={() => { opened.value = !opened.value; }}>{others > 0 ? `and ${others} more` : "note"}</button>
      )}
      <Acknowledge alarm={alarm} linked={linked} />
    </div>
  );
}

/** The button, or how it stands when there is nothing to press. */
function Acknowledge({ alarm, linked }: { alarm: Alarm; linked: boolean }): JSX.Element {
  if (!linked) return <span class="how">not known: no service</span>;
  const ended = alarm.ended_utc_s !== null;
  if (alarm.acknowledged) return <span class="how">{standWords(alarm)}</span>;
  const press = (): void => void acknowledge(alarm).catch(() => undefined); // one that is over meanwhile has gone from the line
  return <>{ended && <span class="how">{standWords(alarm)}</span>}<button class="btn" onClick={press}>Acknowledge</button></>;
}

/** All of them, each with room for a note, the first, which is told above, with its note alone. */
function Others({ alarms, shown, more, linked }: { alarms: readonly Alarm[]; shown: string; more: number; linked: boolean }): JSX.Element {
  const open = alarms.filter(({ acknowledged }) => acknowledged === null);
  const all = (): void => open.forEach((alarm) => void acknowledge(alarm).catch(() => undefined)); // at most 20
  return (
    <div class="all">
      {alarms.map((alarm, k) => <One key={alarm.id} alarm={alarm} shown={shown} first={k === 0} linked={linked} />)}
      {open.length > 1 && linked && <p class="every"><button class="btn" onClick={all}>Acknowledge all {open.length}</button></p>}
      {more > 0 && <p>{more} more are not listed; they come as others go.</p>}
    </div>
  );
}

function One({ alarm, shown, first, linked }: { alarm: Alarm; shown: string; first: boolean; linked: boolean }): JSX.Element {
  const note = useRef<HTMLInputElement>(null);
  const press = (event: Event): void => {
    event.preventDefault();
    void acknowledge(alarm, note.current?.value ?? "").catch(() => undefined);
  };
  const noted = alarm.acknowledged?.note;
  return (
    <form class="one" onSubmit={press}>
      {alarm.rank === "alarm" ? <AlarmMark /> : <CautionMark />}
      <p><b>{actWords(alarm, shown)}</b> {!first && `${whyWords(alarm)} `}{noted && <>Note: {noted}. </>}<small>{standWords(alarm)}</small></p>
      {alarm.acknowledged === null && linked && (
        <><input ref={note} aria-label={`Note on: ${alarm.why}`} placeholder="what was found" maxLength={200} /><button class="btn">{first ? "Acknowledge with the note" : "Acknowledge"}</button></>
      )}
    </form>
  );
}

/** Escape closes the list, also from a note that is being written; the focus goes to what opened it. */
function closedByEscape(box: RefObject<HTMLElement | null>): () => void {
  const key = (event: KeyboardEvent): void => {
    if (event.key !== "Escape" || document.querySelector("dialog[open]")) return;
    event.stopPropagation(); // it takes nothing else back
    opened.value = false;
    if (box.current?.contains(document.activeElement)) box.current.querySelector<HTMLElement>(".others")?.focus();
  };
  document.addEventListener("keydown", key, true);
  return () => document.removeEventListener("keydown", key, true);
}

/** When the block comes, changes or goes, a press that was meant for what was there before does nothing. */
function useSteady(box: RefObject<HTMLElement | null>, block: string): void {
  const height = useRef(0);
  useLayoutEffect(() => {
    const [before, now] = [height.current, box.current!.offsetHeight];
    height.current = now;
    if (before === 0 || before === now) return; // nothing below it has moved
    const until_ms = performance.now() + STEADY_MS;
    const stop = (event: MouseEvent): void => {
      if (event.detail === 0 || performance.now() > until_ms) return; // by a key: focus moves with what it is on
      if ((event.target as Element).closest(".head")) return; // it stands above the block and has not moved
      event.preventDefault();
      event.stopImmediatePropagation();
    };
    window.addEventListener("click", stop, true);
    const timer = setTimeout(() => window.removeEventListener("click", stop, true), STEADY_MS);
    return () => { clearTimeout(timer); window.removeEventListener("click", stop, true); };
  }, [block]);
}
