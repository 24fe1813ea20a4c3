/** The alarms of the night: what, how far, how long, ended or not, and what was noted. Acknowledge, and show it in the drawing. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { isSo } from "../core/alarms";
import { clock, day, typeset } from "../core/format";
import { type Life, acknowledgedWords, countWords, farSide, howLong, waits } from "../core/night_alarms";
import { extent, valueWords } from "../core/night_readings";
import { CautionMark } from "../draw/marks";
import { acknowledge } from "../feed/alarms";
import type { NightModel } from "./night_model";

const FEW = 8;
const NOTE_MAX = 200;
const AROUND = 0.5; // of an alarm's length is shown before and behind it
const AROUND_S = 60;

export function NightAlarms({ model }: { model: NightModel }): JSX.Element {
  const all = useSignal(false);
  const found = model.lives.value;
  const shown = all.value ? found : found.slice(0, FEW);
  const trouble = model.alarms.value?.trouble;
  return (
    <section class="sheet nightalarms" aria-labelledby="nightalarms">
      <h2 id="nightalarms">Alarms <small>{countWords(found)}</small></h2>
      {trouble && <p class="trouble">{trouble}</p>}
      {model.alarms.value === null && model.asked_ms.value !== null && <p class="second">Asking for them.</p>}
      {model.alarms.value && !found.length && <p class="second">None came in this time.</p>}
      <ul>{shown.map((life) => <One key={life.id} life={life} model={model} />)}</ul>
      {found.length > FEW && <button class="as-table" aria-expanded={all.value} onClick={() => (all.value = !all.value)}>{all.value ? "the newest" : `all ${found.length}`}</button>}
    </section>
  );
}

function One({ life, model }: { life: Life; model: NightModel }): JSX.Element {
  const now = model.store.calm.value?.now_utc_s ?? life.raised_utc_s;
  const seconds = (model.whole.value?.to_utc_s ?? 0) - (model.whole.value?.from_utc_s ?? 0);
  const when = `${seconds > 20 * 3600 ? `${day(life.raised_utc_s, now)} ` : ""}${clock(life.raised_utc_s).slice(0, 5)}`;
  const active = life.standing && (life.ended_utc_s === null || waits(life));
  const show = (): void => {
    const end = life.ended_utc_s ?? now;
    const around = Math.max(AROUND_S, AROUND * (end - life.raised_utc_s));
    model.goTo({ from_utc_s: life.raised_utc_s - around, to_utc_s: end + around });
    model.cursor.value = life.raised_utc_s;
    document.querySelector<HTMLElement>(".nightplot .cross")?.focus();
  };
  return (
    <li>
      <span class={`tag ${life.rank}${active && isSo(life) ? "" : " over"}`}>{life.rank === "alarm" ? <AlarmSign /> : <CautionMark />}{when}</span>
      <div>
        <p><b>{life.rank === "alarm" ? "Alarm" : "Caution"}{active && isSo(life) ? `: ${life.act}.` : "."}</b> {typeset(life.why)}</p>
        <p class="second">{howLong(life, now, reachedWords(life, model))}{acknowledgedWords(life) && `; ${acknowledgedWords(life)}`}</p>
        {waits(life) && <Acknowledge life={life} model={model} onShow={show} />}
        {!waits(life) && <div class="row"><button class="btn" onClick={show}>Show</button></div>}
      </div>
    </li>
  );
}

/** "highest 5.80 A" while it was so, where its reading is drawn. */
function reachedWords(life: Life, model: NightModel): string {
  const { reading, raised_utc_s, ended_utc_s } = life;
  const [trends, band] = [model.trends.value, model.trends.value?.readings[reading]];
  if (!trends || !band) return "";
  const step = (trends.to_utc_s - trends.from_utc_s) / trends.columns;
  const place = (utc_s: number): number => Math.floor((utc_s - trends.from_utc_s) / step);
  const [from, to] = [place(raised_utc_s), place(ended_utc_s ?? trends.to_utc_s) + 1];
  if (from < 0 || from >= trends.columns) return "";
  const reached = extent({ low: band.low.subarray(from, to), high: band.high.subarray(from, to) });
  if (!reached) return "";
  const side = farSide(life);
  const words = (which: "lowest" | "highest"): string => `${which} ${valueWords(reached[which === "lowest" ? 0 : 1], model.quantity(reading))}`;
  return side ? words(side) : `${words("lowest")}, ${words("highest")}`;
}

function Acknowledge({ life, model, onShow }: { life: Life; model: NightModel; onShow: () => void }): JSX.Element {
  const note = useSignal("");
  const trouble = useSignal("");
  const press = (event: Event): void => {
    event.preventDefault();
    acknowledge(life, note.value).then(() => model.lookAlarms(), (error: Error) => { trouble.value = error.message; });
  };
  return (
    <form onSubmit={press}>
      <input value={note.value} maxLength={NOTE_MAX} placeholder="what was found" aria-label={`Note on: ${life.act}`} onInput={(event) => { note.value = event.currentTarget.value; }} />
      <div class="row"><button class="btn">Acknowledge</button><button type="button" class="btn" onClick={onShow}>Show</button></div>
      {trouble.value && <p class="trouble" role="alert">{trouble.value}</p>}
    </form>
  );
}

function AlarmSign(): JSX.Element {
  return <svg class="sign" width="14" height="14" viewBox="0 0 14 14" aria-hidden="true"><path d="M0 0H14V14H0Z" fill="currentColor" /><path class="cut" d="M7 2.5V8M7 9.8V12" fill="none" stroke-width="2.2" /></svg>;
}
