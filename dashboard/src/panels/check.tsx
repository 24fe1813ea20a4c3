/** The guided check: one step open, cautions before it, what was found behind it; large things to press at the foot. */
import { type Signal, useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { typeset } from "../core/format";
import { driveWords } from "../core/teaching";
import type { Check, CheckStep, Wiring } from "../core/wiring";
import { CautionMark, SpeaksMark } from "../draw/marks";
import { type Kept, type Told, checkPage, keepCheck } from "../feed/wiring";
import { CheckForm, SENDS, STEP_FORM } from "./check_form";

/** What makes the exact turns that a step asks for; any hand does the others. */
const DEMO_HAND: Readonly<Record<string, string>> = { short: "hand_two_turns_each_way", pairs: "hand_one_turn" };
const SHORT = "All is connected: the short way";

interface Props {
  readonly rig: string;
  readonly demo: boolean;
  readonly wiring: Wiring;
  readonly tell: (told: Told) => Promise<void>;
  readonly playing: boolean; // a recorded run: nothing is asked of anybody
}

export function GuidedCheck({ rig, demo, wiring, tell, playing }: Props): JSX.Element {
  const trouble = useSignal("");
  const leaving = useSignal(false); // asked back, also while the check goes on by itself
  const { check } = wiring;
  const act = (told: Told): void => {
    [trouble.value, leaving.value] = ["", false];
    tell(check ? { ...told, at: check.key } : told).catch((error: Error) => { trouble.value = error.message; });
  };
  useAwake(check !== null && !check.finished);
  return (
    <section class={`sheet check${check && !check.finished ? " going" : ""}`} aria-labelledby="check">
      <h2 id="check">Step by step {check && !check.finished && <small>step {check.step} of {check.steps.length}{check.short ? ", the short way" : ""}</small>}</h2>
      <p class="sr" role="status">{check ? spoken(check) : ""}</p>
      {!check && <Begin act={act} playing={playing} />}
      {check && <Behind steps={check.steps} upTo={check.finished ? check.steps.length + 1 : check.step} />}
      {check && !check.finished && <Open key={`${check.step} ${check.short}`} rig={rig} check={check} demo={demo} act={act} leaving={leaving} />}
      {check?.finished && <p class="lead">All steps are behind.</p>}
      {check && !check.finished && <Ahead steps={check.steps.slice(check.step)} short={check.short} />}
      {trouble.value && <p class="wrong" role="alert">{trouble.value}</p>}
      {wiring.names.not_kept && <p class="second">{typeset(wiring.names.not_kept)} The names hold until the service ends.</p>}
      <Keep rig={rig} enough={check !== null || wiring.verdicts.length > 0} />
      {check?.finished && <div class="row"><button class="btn" onClick={() => act({ act: "leave" })}>End the check</button></div>}
    </section>
  );
}

/** For a screen reader: which step is open now, and what the one before found; nothing while it counts. */
function spoken({ finished, step, title, agreed, steps, cautions }: Check): string {
  if (finished) return "All steps are behind.";
  const before = steps.filter(({ known, number }) => known && number < step).at(-1);
  const found = before ? `${before.title}: ${before.found} ` : "";
  return `${found}Step ${step}: ${title}.${!agreed && cautions.length ? " First the cautions." : ""}`;
}

function Begin({ act, playing }: { act: (told: Told) => void; playing: boolean }): JSX.Element {
  if (playing) return <p class="second">A recorded run is played: what was turned then is judged here, and can be kept with the run.</p>;
  return (
    <>
      <p>From nothing connected to a verdict: eleven steps, each with what to connect, what to do, and its cautions first. It sees by itself when a step is done.</p>
      <div class="row"><button class="btn first" onClick={() => act({ act: "begin" })}>Begin the guided check</button></div>
    </>
  );
}

/** Steps that were passed or skipped, with what they found. */
function Behind({ steps, upTo }: { steps: readonly CheckStep[]; upTo: number }): JSX.Element {
  return (
    <ol class="steps behind">
      {steps.filter((step) => step.known && step.number < upTo).map((step) => (
        <li key={step.key}>
          <span class="number">{step.number}</span>
          <span><b>{step.title}</b> <SpeaksMark speaks={step.odd ? "against" : step.passed ? "for" : "missing"} /><span class="second">{typeset(step.found)}</span></span>
        </li>
      ))}
    </ol>
  );
}

function Ahead({ steps, short }: { steps: readonly CheckStep[]; short: boolean }): JSX.Element {
  const left = steps.filter(({ known, key }) => !known && !(short && ["order", "pairs", "match", "timing"].includes(key)));
  return <ol class="steps ahead">{left.map((step) => <li key={step.key}><span class="number">{step.number}</span><span>{step.title}</span></li>)}</ol>;
}

interface OneStep {
  readonly rig: string;
  readonly demo: boolean;
  readonly check: Check;
  readonly act: (told: Told) => void;
  readonly leaving: Signal<boolean>;
}

function Open({ rig, demo, check, act, leaving }: OneStep): JSX.Element {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    heading.current?.focus({ preventScroll: true });
    if (matchMedia("(max-width: 720px)").matches) window.scrollTo(0, 0); // a step is a screenful, from the far line on
    else heading.current?.scrollIntoView({ block: "nearest" }); // what stood above it may be gone
  }, [check.agreed]);
  return (
    <div class="open" role="group" aria-labelledby="step">
      <h3 id="step" tabIndex={-1} ref={heading}><span class="number">{check.step}</span> {check.title}</h3>
      {check.cautions.length > 0 && (
        <ul class={`cautions${check.agreed ? " seen" : ""}`} aria-label="Cautions">
          {check.cautions.map((caution) => <li key={caution}><CautionMark /><span>{caution}</span></li>)}
        </ul>
      )}
      {check.agreed ? <Doing check={check} demo={demo} act={act} /> : <p class="second">The step opens when these were seen to.</p>}
      <Foot rig={rig} demo={demo} check={check} act={act} leaving={leaving} />
    </div>
  );
}

function Doing({ check, demo, act }: Omit<OneStep, "rig" | "leaving">): JSX.Element {
  return (
    <div class="doing">
      <p class="second">Connected: {check.connected}</p>
      <p class="to-do">{typeset(check.asks)}</p>
      {demo && DEMO_HAND[check.short ? "short" : check.key] && <p>Here the demo's hand does it: under “What moves the shaft” choose “{driveWords(DEMO_HAND[check.short ? "short" : check.key]!)}”.</p>}
      {check.predicted && <p>{typeset(check.predicted)}</p>}
      <CheckForm check={check} act={act} />
      {check.of > 0 && <Counted done={check.done} of={check.of} />}
      {check.says && <p class={`says${check.odd ? " wrong" : ""}`}>{typeset(check.says)}</p>}
      {check.missing && <p class="second">Missing: {typeset(check.missing)}.</p>}
      {check.push && <details class="push"><summary>It stands: weak or locked?</summary><p>{check.push}</p></details>}
    </div>
  );
}

/** How much has come, as a length with its numbers. */
function Counted({ done, of }: { done: number; of: number }): JSX.Element {
  return (
    <div class="counted">
      <progress max={of} value={done} aria-label="how much has come" />
      <span>{done} of {of}</span>
    </div>
  );
}

/** Under the thumb: what goes on, then what goes back. */
function Foot({ rig, check, act, leaving }: OneStep): JSX.Element {
  const found = check.steps.filter(({ passed }) => passed).length;
  const form = check.agreed && SENDS[check.form];
  return (
    <div class="foot-bar">
      {!check.agreed && <button class="btn first broad" onClick={() => act({ act: "agree" })}>I have seen to all of it</button>}
      {form && <button class="btn first broad" form={STEP_FORM}>{form}</button>}
      {check.agreed && check.form === "count" && <button class="btn first broad" onClick={() => act({ act: "counted" })}>That was one turn</button>}
      {check.agreed && check.form === "move" && !check.moved && <button class="btn first broad" onClick={() => act({ act: "moved" })}>I have moved them</button>}
      {check.agreed && check.offers && <button class="btn broad" onClick={() => act({ act: "accept" })}>{check.offers}</button>}
      {check.can_short && (form
        ? <button class="btn broad" form={STEP_FORM} value="short">{SHORT}</button>
        : <button class="btn broad" onClick={() => act({ act: "short" })}>{SHORT}</button>)}
      {leaving.value
        ? (
          <>
            <p class="second broad" role="status">Leaving forgets what {found} steps found.</p>
            <Keep rig={rig} enough />
            <button class="btn" onClick={() => act({ act: "leave" })}>Forget and leave</button>
            <button class="btn" onClick={() => { leaving.value = false; }}>Stay</button>
          </>
        )
        : (
          <>
            <button class="btn" onClick={() => act({ act: "back" })} disabled={check.step === 1}>Back</button>
            <button class="btn" onClick={() => act({ act: "repeat" })}>Repeat</button>
            <button class="btn" onClick={() => act({ act: "skip" })}>Skip</button>
            <button class="btn" onClick={() => { if (found > 1) leaving.value = true; else act({ act: "leave" }); }}>Leave</button>
          </>
        )}
    </div>
  );
}

function Keep({ rig, enough }: { rig: string; enough: boolean }): JSX.Element | null {
  const kept = useSignal<Kept | null>(null);
  const trouble = useSignal("");
  if (!enough) return null;
  const keep = (): void => {
    trouble.value = "";
    keepCheck(rig).then((where) => { kept.value = where; }, (error: Error) => { trouble.value = error.message; });
  };
  return (
    <div class="keep-check">
      <div class="row">
        <button class="btn" onClick={keep}>Keep this with the run</button>
        {kept.value && <a class="btn" href={checkPage(kept.value)} target="_blank" rel="noopener">Open page {kept.value.number} to print or send</a>}
      </div>
      <p class="second" role="status">{kept.value ? `Kept as page ${kept.value.number} with the run ${kept.value.run}.` : ""}</p>
      {trouble.value && <p class="wrong" role="alert">{trouble.value}</p>}
    </div>
  );
}

/** The screen stays on while one hand turns the shaft, where the browser lets us ask for it. */
function useAwake(wanted: boolean): void {
  useEffect(() => {
    if (!wanted || !("wakeLock" in navigator)) return;
    let lock: WakeLockSentinel | null = null;
    let over = false;
    navigator.wakeLock.request("screen").then((got) => { if (over) void got.release(); else lock = got; }, () => undefined);
    return () => { over = true; void lock?.release(); };
  }, [wanted]);
}
