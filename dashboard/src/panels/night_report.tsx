/** What the night came to: one sentence, its signs, what is unknown, what to do next; as print or as a file. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { clock, day, typeset } from "../core/format";
import type { Night } from "../core/night";
import { REFERENCE, type Run, referenceOf, whenWords } from "../core/runs";
import { SpeaksMark } from "../draw/marks";
import { type Making, makeReport, makingOf } from "../feed/night";
import { runs } from "../feed/runs";
import type { NightModel } from "./night_model";

const LOOK_MS = 1000;
const TAGGED_MS = 10_000; // another tag, or a run that is summed up meanwhile, so that its motor is known

/** Its one sentence above all else, so that no alarm pushes it out of sight; on paper it stands in the report. */
export function NightAnswer({ model }: { model: NightModel }): JSX.Element | null {
  const night = model.night.value;
  return night && <section class="sheet nightanswer answer" aria-label="Answer"><p class="title">{night.answer}.</p></section>;
}

export function NightReport({ model }: { model: NightModel }): JSX.Element {
  const night = model.night.value;
  if (!night) return <section class="sheet nightreport" aria-label="Report"><p class="second">{model.asked_ms.value === null ? "Nothing to report." : "Reading what happened."}</p></section>;
  const run = night.runs[night.runs.length - 1]?.run ?? "";
  const told = [...night.troubles, ...(model.trends.value?.runs ?? []).map(({ trouble }) => trouble)];
  const troubles = new Set(told.filter((text) => text && !night.unknown.some((said) => said.includes(text)))); // each once
  return (
    <section class="sheet nightreport answer" aria-labelledby="nightreport">
      <h2 id="nightreport"><small>{titleOf(model, night)}</small></h2>
      <p class="title">{night.answer}.</p>
      <ul class="signs">
        {night.signs.map(({ mark, text }) => <li key={text}>{mark === "note" ? <span class="dot" aria-hidden="true" /> : <SpeaksMark speaks={mark} />}<span>{typeset(text)}</span></li>)}
        {night.unknown.map((text) => <li key={text}><SpeaksMark speaks="missing" /><span>{typeset(text)}</span></li>)}
        {[...troubles].map((text) => <li key={text}><SpeaksMark speaks="missing" /><span>{text}</span></li>)}
      </ul>
      <div class="next">
        {night.next && <><b>Next</b>{night.caution && <p class="careful">{night.caution}</p>}<p>{night.next}</p></>}
        <div class="row">
          <button class="btn first" onClick={() => window.print()}>Print the report</button>
          {run && <MakePdf key={run} run={run} recording={model.run.value?.recording === true} many={night.runs.length > 1} />}
          {run && <a class="btn" href={`#runs/${run}`}>Open in Runs</a>}
          {run && <Compare key={run} run={run} model={model} motor={night.motor} many={night.runs.length > 1} />}
        </div>
      </div>
    </section>
  );
}

function titleOf(model: NightModel, { to_utc_s }: Night): string {
  const hour = new Date(to_utc_s * 1000).getHours();
  const morning = model.live && hour >= 4 && hour < 12;
  return `${morning ? "Morning report" : "Report"}, ${day(to_utc_s, model.store.calm.value?.now_utc_s ?? to_utc_s)} ${clock(to_utc_s).slice(0, 5)}`;
}

interface CompareProps {
  readonly run: string;
  readonly model: NightModel;
  readonly motor: string;
  readonly many: boolean; // it is the newest of several
}

/** Laid on the reference of its motor, or on another that is ticked in Runs; one that is recorded has no end yet. */
function Compare({ run, model, motor, many }: CompareProps): JSX.Element {
  const tagged = useSignal<readonly Run[]>([]);
  useEffect(() => {
    const look = (): void => void runs(`#${REFERENCE}`).then((found) => { tagged.value = found; }, () => undefined); // then it is laid on another
    look();
    const timer = setInterval(look, TAGGED_MS);
    return () => clearInterval(timer);
  }, [run]);
  const now = model.store.calm.value;
  const open = now && (now.recording.state === "recording" || now.recording.state === "gap") ? now.recording.run : "";
  if (model.run.value?.recording || open === run) return <span class="second">It can be compared with another run once it has ended.</span>;
  const reference = referenceOf({ name: run, motor }, tagged.value);
  const which = many ? "Compare the newest run" : "Compare";
  return (
    <>
      {reference && <a class="btn" href={`#runs/${reference.name}+${run}`}>{which} with the reference of {whenWords(reference.opened_utc_s, now?.now_utc_s ?? reference.opened_utc_s)}</a>}
      <a class="btn" href={`#runs/${run}+`}>{which} with another run</a>
    </>
  );
}

/** The whole report of one run is made by playing it, which takes a while; then it is fetched. */
function MakePdf({ run, recording, many }: { run: string; recording: boolean; many: boolean }): JSX.Element {
  const making = useSignal<Making | null>(null);
  const trouble = useSignal("");
  const failed = (error: Error): void => { trouble.value = error.message; };
  const going = making.value?.state === "waiting" || making.value?.state === "making";
  useEffect(() => {
    if (!going) return undefined;
    const timer = setTimeout(() => { makingOf(making.value!.number).then((now) => { making.value = now ?? null; }, failed); }, LOOK_MS);
    return () => clearTimeout(timer);
  }, [making.value]);
  const begin = (): void => { trouble.value = ""; makeReport(run).then((now) => { making.value = now; }, failed); };
  const its = making.value;
  const said = trouble.value || its?.trouble;
  return (
    <>
      {its?.state === "made" && its.file ? <a class="btn" href={its.file} download={its.file_name}>Fetch the PDF</a> : (
        <button class="btn" disabled={going} onClick={begin}>{many ? "PDF of the newest run" : recording ? "PDF so far" : "PDF"}</button>
      )}
      {going && <label class="progress"><progress value={its!.state === "making" ? its!.share : undefined} /> <span class="second">{its!.state === "making" ? `playing the run for it, ${Math.round(its!.share * 100)}\u00a0%` : "waiting its turn"}</span></label>}
      {said && <p class="trouble" role="alert">{said}</p>}
    </>
  );
}
