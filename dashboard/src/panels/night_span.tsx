/** Which stretch of time the Night screen shows: a run, or what ends now. The address keeps it. */
import type { JSX } from "preact";
import { PERIODS } from "../core/night";
import { windowWords } from "../core/night_words";
import { whenWords, whoseWords } from "../core/runs";
import type { NightModel } from "./night_model";

export function NightSpan({ model }: { model: NightModel }): JSX.Element {
  const run = model.run.value;
  const whole = model.whole.value;
  const ofRun = model.what !== "" && !model.period;
  const now = model.store.calm.value?.now_utc_s ?? 0;
  const rig = model.rig.value;
  return (
    <nav class="nightspan" aria-label="Stretch of time">
      <span class="choices" role="list">
        <Choice href="#night" on={!ofRun && !model.period} words="this run" />
        {PERIODS.map(({ key, words }) => <Choice key={key} href={`#night/${key}`} on={model.what === key} words={key === "12h" || key === "24h" ? `last ${words}` : words} />)}
        {ofRun && <Choice href={`#night/${model.what}`} on words={run ? `run of ${whenWords(run.opened_utc_s, now)}` : "a run"} />}
      </span>
      <span class="second">
        {whole && windowWords({ ...whole, to_utc_s: now > whole.from_utc_s ? Math.min(whole.to_utc_s, now) : whole.to_utc_s }, now)}{run ? <> of {whoseWords(run)}{run.recording ? ", being recorded" : ""}</> : rig ? <> of {rig}</> : null}
        {" "}<a href="#runs">{ofRun ? "Other runs" : "Older runs"}</a>
      </span>
    </nav>
  );
}

function Choice({ href, on, words }: { href: string; on: boolean; words: string }): JSX.Element {
  return <span role="listitem"><a class="btn" href={href} aria-current={on ? "true" : undefined}>{words}</a></span>;
}
