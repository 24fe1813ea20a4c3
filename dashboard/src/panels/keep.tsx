/** Pictures kept on purpose: what is waited for, what has come, and how a person asks for it. The service does the waiting. */
import { signal, useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { capital, clock, stretch, typeset } from "../core/format";
import type { Armed, Kept } from "../core/kept";
import type { Picture } from "../core/picture";
import { type Given, numberFrom } from "../core/settings";
import { keyOf, placeOf } from "../core/shown";
import type { Store } from "../core/store";
import { RPM, rateOf, sentenceIn } from "../core/units";
import { type Wanted, arm, disarm, drop } from "../feed/kept";
import { Form } from "./form";
import { measure } from "./measure";
import type { Panel } from "./panel";
import { showSaid } from "./said";

const START: Wanted = { what: "start", before_s: 0.2, after_s: 1.5 };
const SPANS: readonly (readonly [string, string])[] = [["0.2 1.5", "0.2 s before, 1.5 s after"], ["0.1 0.4", "0.1 s before, 0.4 s after"], ["0.5 0.5", "0.5 s before, 0.5 s after"], ["1 3", "1 s before, 3 s after"]];
const FIRST = ["current_rms_a", "voltage_rms_v", "speed_rpm", "active_power_w"];

const trouble = signal("");
/** Of a rig: the newest picture that was kept before this page asked for one; what comes after it is shown by itself. */
const awaited = signal<{ readonly rig: string; readonly after: number } | null>(null);

function act(doing: Promise<unknown>): Promise<void> {
  trouble.value = "";
  return doing.then(() => undefined, (error: Error) => { trouble.value = error.message; });
}

function newest(picture: Picture): number {
  return Math.max(0, ...picture.keeping.kept.map(({ number }) => number));
}

function armFor(picture: Picture, wanted: Wanted): Promise<unknown> {
  awaited.value = { rig: picture.rig, after: newest(picture) };
  return arm(picture.rig, wanted);
}

/** Waits for the next start; if anything is waited for already, no more. */
export function armOrNot(store: Store): void {
  const picture = store.live.peek();
  if (!picture?.rig) return;
  const armed = picture.keeping.armed !== null;
  void act(armed ? disarm(picture.rig) : armFor(picture, START)).then(() => showSaid(trouble.value || (armed ? "Waiting no more" : "Waiting for the next start")));
}

function KeepView({ store }: { store: Store }): JSX.Element {
  const asking = useSignal(false);
  const picture = store.calm.value;
  const live = store.live.value;
  const keeping = live?.keeping;
  useEffect(() => { if (live) showWhatCame(store, live); }, [keeping && JSON.stringify(keeping)]);
  if (!picture || !keeping) return <section class="sheet keep" />;
  const said = trouble.value || keeping.trouble;
  return (
    <section class="sheet keep" aria-labelledby="keep">
      <h2 id="keep"><span>Kept pictures</span> <small>{picture.playing ? "until playing goes elsewhere" : "until the service ends"}; the run has the samples</small></h2>
      {keeping.armed ? <Waiting armed={keeping.armed} picture={picture} /> : (
        <div class="row">
          <button class="btn" onClick={() => armOrNot(store)}>Keep the next start</button>
          <button class="btn" aria-expanded={asking.value} onClick={() => (asking.value = !asking.value)}>Keep something else</button>
        </div>
      )}
      {asking.value && !keeping.armed && <Ask store={store} picture={picture} onDone={() => (asking.value = false)} />}
      {said && <p class="said-why" role="status">{said}</p>}
      <ol class="kept">{keeping.kept.map((kept) => <Row key={kept.number} kept={kept} picture={picture} />)}</ol>
    </section>
  );
}

/** What this page asked for and has come is shown, unless a person looks at another one that is held. */
function showWhatCame(store: Store, picture: Picture): void {
  const wanted = awaited.peek();
  const came = picture.keeping.kept[0];
  if (!wanted || picture.rig !== wanted.rig || !came || came.number <= wanted.after) return;
  awaited.value = null;
  if (!store.held.peek()) void measure.showKept(came);
}

function Waiting({ armed, picture }: { armed: Armed; picture: Picture }): JSX.Element {
  const what = picture.speed_unit === RPM ? armed.text : sentenceIn(armed.text);
  return (
    <div class="row">
      <p class="waiting" role="status"><b>{armed.came ? `${capital(typeset(what))} came: keeping what follows` : `Waiting for ${typeset(what)}`}</b> <span class="second">{stretch(armed.before_s)} before to {stretch(armed.after_s)} after, since {clock(armed.since_utc_s)}</span></p>
      <button class="btn" onClick={() => void act(disarm(picture.rig))}>Stop waiting</button>
    </div>
  );
}

function Row({ kept, picture }: { kept: Kept; picture: Picture }): JSX.Element {
  const text = typeset(picture.speed_unit === RPM ? kept.text : sentenceIn(kept.text));
  const when = clock(kept.start_utc_s + kept.moment_s, true);
  return (
    <li>
      <span>{text} <span class="second">{when}, {stretch(kept.span_s)} long</span></span>
      <button class="as-table" aria-label={`Show: ${text}, ${when}`} aria-pressed={measure.source.value?.number === kept.number} onClick={() => void measure.showKept(kept)}>show</button>
      <button class="as-table" aria-label={`Forget: ${text}, ${when}`} onClick={() => void act(drop(picture.rig, kept.number))}>forget</button>
    </li>
  );
}

/** The next start with other times, or the next crossing of a limit. */
function Ask({ store, picture, onDone }: { store: Store; picture: Picture; onDone: () => void }): JSX.Element {
  const ids = Object.keys(picture.readings).filter((id) => typeof picture.readings[id]!.value === "number" && store.quantity(keyOf(id)));
  const rank = (id: string): number => (FIRST.includes(id) ? FIRST.indexOf(id) : FIRST.length);
  const choices = ids.sort((a, b) => rank(a) - rank(b)).map((id) => [id, nameOf(store, id)] as const);
  const save = async (given: Given): Promise<unknown> => {
    const [before_s = 0.2, after_s = 1.5] = (given["span"] ?? "").split(" ").map(Number);
    const what = given["what"] ?? "start";
    if (what === "start") return armFor(picture, { what: "start", before_s, after_s });
    const level = numberFrom(given["level"] ?? "");
    const reading = given["reading"] ?? "";
    if (typeof level !== "number") throw new Error("Write the level as a number.");
    const rate = rateOf({ key: keyOf(reading) }, picture.speed_unit);
    return armFor(picture, { what: "crossing", before_s, after_s, reading, above: what === "above", level: level / rate });
  };
  return (
    <Form
      label="What to keep" save="Wait for it" onSave={save} onLeave={onDone}
      fields={[
        { key: "what", label: "The next", choices: [["start", "start of the motor"], ["above", "rise above a level"], ["below", "fall below a level"]] },
        { key: "reading", label: "Of", choices },
        { key: "level", label: "Level", number: true, hint: "for a rise or a fall" },
        { key: "span", label: "Keep", choices: SPANS },
      ]}
      before={{ what: "above", reading: choices[0]?.[0] ?? "", level: "", span: SPANS[0]![0] }}
    />
  );
}

function nameOf(store: Store, id: string): string {
  const [quantity, place] = [store.quantity(keyOf(id))!, placeOf(id)];
  return capital(`${quantity.label}${place && `, ${place}`}${quantity.unit && quantity.unit !== "1" ? `, ${quantity.unit}` : ""}`);
}

export const KEEP: Panel = { key: "keep", side: "answers", fits: (picture) => picture.trace !== null, view: KeepView };
