/** Night: was it well while I was away. The answer in one sentence, below it trends left and what it rests on right. */
import { useComputed, useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useCallback, useEffect, useMemo } from "preact/hooks";
import { whenWords, workWords } from "../core/runs";
import { playRun } from "../feed/runs";
import { NightAlarms } from "../panels/night_alarms";
import { NightModel } from "../panels/night_model";
import { NightPlan } from "../panels/night_plan";
import { NightReadings } from "../panels/night_readings";
import { NightAnswer, NightReport } from "../panels/night_report";
import { NightRigs } from "../panels/night_rigs";
import { NightSpan } from "../panels/night_span";
import { NightSpent } from "../panels/night_spent";
import { NightTrends } from "../panels/night_trends";
import { Waiting } from "../panels/waiting";
import { zooming } from "../panels/zooming";
import { go } from "./route";
import type { Screen, ScreenProps } from "./screen";

function NightView(props: ScreenProps): JSX.Element {
  const { store } = props;
  const what = useAddress();
  const rig = useComputed(() => store.calm.value?.playing?.rig ?? store.calm.value?.rig ?? "");
  const known = useComputed(() => store.calm.value !== null);
  if (!known.value) return <div class="cols one"><p class="sheet">{store.linked.value ? "Waiting for the first picture." : "This page does not reach the service."}</p></div>;
  if (!rig.value && !what) return <div class="cols one"><p class="sheet">No rig yet, so no night. <a href="#watch">Watch</a> finds a board or starts a demo motor.</p></div>;
  return <Whole key={`${what} ${rig.value}`} {...props} what={what} rig={rig.value} />;
}

function Whole({ store, onRig, what, rig }: ScreenProps & { what: string; rig: string }): JSX.Element {
  const model = useMemo(() => new NightModel(store, what, rig), []);
  useEffect(() => model.start(), []);
  useEffect(() => {
    zooming.value = (nearer) => model.zoom(nearer);
    return () => { zooming.value = null; };
  }, []);
  const refused = useSignal("");
  const play = useCallback((utc_s: number): void => {
    const run = model.trends.value?.runs.find((each) => each.from_utc_s !== null && utc_s >= each.from_utc_s && utc_s <= (each.to_utc_s ?? 0))?.run;
    if (run) playRun(run, utc_s).then((name) => { onRig(name); go("watch"); }, (error: Error) => { refused.value = error.message; });
  }, []);
  const work = model.run.value && workWords(model.run.value);
  const nothing = model.empty.value && model.asked_ms.value === null;
  return (
    <>
      <NightSpan model={model} />
      {refused.value && <p class="trouble" role="alert">{refused.value}</p>}
      {model.trouble.value && <Trouble model={model} />}
      {model.asked_ms.value !== null && <Waiting key={model.asked_ms.value} what="Reading the logs of this time" sheet />}
      {work && <Waiting what={work} share={model.run.value!.summing_up_share} sheet />}
      <div class="cols night">
        <NightAnswer model={model} />
        <div class="stack drawings">
          {nothing ? <Nothing model={model} /> : <NightTrends model={model} onPlay={play} />}
          <NightReadings model={model} />
          <NightSpent model={model} />
        </div>
        <div class="stack answers">
          <NightRigs model={model} onRig={onRig} />
          <NightAlarms model={model} />
          <NightReport model={model} />
          <NightPlan model={model} />
        </div>
      </div>
    </>
  );
}

/** "#night/20261125-2140-heron-2" -> what is behind the screen's key. */
function useAddress(): string {
  const read = (): string => {
    const [screen, what] = location.hash.replace(/^#/, "").split("/");
    return screen === "night" ? (what ?? "") : "";
  };
  const what = useSignal(read());
  useEffect(() => {
    const look = (): void => { what.value = read(); };
    window.addEventListener("hashchange", look);
    return () => window.removeEventListener("hashchange", look);
  }, []);
  return what.value;
}

function Trouble({ model }: { model: NightModel }): JSX.Element {
  const copy = (): void => void navigator.clipboard?.writeText(`${new Date().toISOString()} ${location.href}: ${model.trouble.value}`);
  return (
    <div class="trouble" role="alert">
      <p>{model.trouble.value}</p>
      <div class="row"><button class="btn" onClick={() => model.again()}>Try again</button><button class="btn" onClick={copy}>Copy what went wrong</button></div>
    </div>
  );
}

function Nothing({ model }: { model: NightModel }): JSX.Element {
  const whole = model.whole.value;
  return (
    <section class="sheet" aria-label="The night">
      <h2>The night</h2>
      <p>{whole ? `Nothing was recorded since ${whenWords(whole.from_utc_s, whole.to_utc_s)}.` : `Nothing of ${model.rig.value} is recorded yet.`} A run opens by itself when a board is connected.</p>
      <div class="row"><a class="btn" href="#runs">Older runs</a></div>
    </section>
  );
}

export const NIGHT: Screen = { key: "night", name: "Night", far: true, view: NightView };
