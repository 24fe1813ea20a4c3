/** The test plan of the rig: goal, counts over all its runs, time left, and how it stands with the evidence. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { typeset } from "../core/format";
import { type Judgement, goalWords, leftWords } from "../core/night_words";
import { whenWords } from "../core/runs";
import { SpeaksMark } from "../draw/marks";
import { type Plan, judgementOf, planOf } from "../feed/night";

const AGAIN_MS = 10_000;
const FEW = 6;

export function NightPlan({ rig, now_utc_s }: { rig: string; now_utc_s: number }): JSX.Element | null {
  const plan = useSignal<Plan | null>(null);
  const judged = useSignal<Judgement | null>(null);
  const trouble = useSignal("");
  useEffect(() => {
    let [over, timer] = [false, 0];
    const look = async (): Promise<void> => {
      try {
        const found = await planOf(rig);
        const stands = found.tables ? await judgementOf(rig) : null;
        if (over) return;
        [plan.value, judged.value, trouble.value] = [found, stands, found.refused];
      } catch (error) {
        if (over) return;
        trouble.value = (error as Error).message;
      }
      timer = window.setTimeout(() => void look(), AGAIN_MS);
    };
    [plan.value, judged.value, trouble.value] = [null, null, ""];
    if (rig) void look();
    return () => { over = true; clearTimeout(timer); };
  }, [rig]);
  if (!rig || (!plan.value && !trouble.value)) return null;
  const test = plan.value?.tables?.test;
  return (
    <section class={`sheet nightplan${test ? "" : " none"}`} aria-labelledby="nightplan">
      <h2 id="nightplan">Test plan <small>{test && [test.specimen, test.serial].filter(Boolean).join(", ")}</small></h2>
      {trouble.value && <p class="trouble" role="alert">{trouble.value}</p>}
      {judged.value && test && <Stands its={judged.value} goals={goalWords(test, judged.value)} now_utc_s={now_utc_s} />}
      {plan.value && !test && !trouble.value && (
        <p class="second">None for {rig}. A plan says what is tested, for how many cycles or hours, and what means that it has failed: <code class="whole">slipring plan {rig} --set FILE</code>; server/test_plan/PLAN.md says what stands in it.</p>
      )}
    </section>
  );
}

const OUTCOMES = { pass: "Passed", fail: "Failed", undecided: "Undecided so far" } as const;

function Stands({ its, goals, now_utc_s }: { its: Judgement; goals: readonly string[]; now_utc_s: number }): JSX.Element {
  const speaks = its.outcome === "pass" ? "for" : its.outcome === "fail" ? "against" : "missing";
  return (
    <>
      <p class="outcome"><SpeaksMark speaks={speaks} /> <b>{OUTCOMES[its.outcome]}</b></p>
      <p>{goals.join("; ")}. {leftWords(its)}</p>
      <ul class="signs">
        {its.reasons.slice(0, FEW).map((text) => <li key={text}><SpeaksMark speaks={speaks} /><span>{typeset(text)}</span></li>)}
        {its.failures.slice(0, FEW).map(({ text, run, utc_s, cycle }) => <li key={`${run} ${utc_s} ${text}`}><SpeaksMark speaks="against" /><span>{typeset(text)} <a href={`#night/${run}`}>{whenWords(utc_s, now_utc_s)}{cycle === null ? "" : `, cycle ${cycle}`}</a></span></li>)}
        {its.failures_count > Math.min(its.failures.length, FEW) && <li><SpeaksMark speaks="against" /><span>and {its.failures_count - Math.min(its.failures.length, FEW)} more limits passed</span></li>}
        {its.unknown.slice(0, FEW).map((text) => <li key={text}><SpeaksMark speaks="missing" /><span>{typeset(text)}</span></li>)}
      </ul>
    </>
  );
}
