/** How a test stands: pass, fail or undecided, counts against goals, time left, and the evidence. */
import type { JSX } from "preact";
import { typeset } from "../core/format";
import { type Judgement, type PlanTest, goalWords, leftWords } from "../core/night_words";
import { whenWords } from "../core/runs";
import { SpeaksMark } from "../draw/marks";

const FEW = 6;
const OUTCOMES = { pass: "Passed", fail: "Failed", undecided: "Undecided so far" } as const;

export function PlanStands({ its, test, now_utc_s }: { its: Judgement; test: PlanTest; now_utc_s: number }): JSX.Element {
  const speaks = its.outcome === "pass" ? "for" : its.outcome === "fail" ? "against" : "missing";
  return (
    <>
      <p class="outcome"><SpeaksMark speaks={speaks} /> <b>{OUTCOMES[its.outcome]}</b>{its.outcome === "pass" && its.passed_utc_s !== null && ` ${whenWords(its.passed_utc_s, now_utc_s)}`}</p>
      <p>{goalWords(test, its).join("; ")}. {its.outcome === "undecided" && leftWords(its)}</p>
      <ul class="signs">
        {otherReasons(its).slice(0, FEW).map((text) => <li key={text}><SpeaksMark speaks={speaks} /><span>{typeset(text)}</span></li>)}
        {its.failures.slice(0, FEW).map(({ text, run, utc_s, cycle }) => <li key={`${run} ${utc_s} ${text}`}><SpeaksMark speaks="against" /><span>{typeset(text)} <a href={`#night/${run}`}>{whenWords(utc_s, now_utc_s)}{cycle === null ? "" : `, cycle ${cycle}`}</a></span></li>)}
        {its.failures_count > Math.min(its.failures.length, FEW) && <li><SpeaksMark speaks="against" /><span>and {its.failures_count - Math.min(its.failures.length, FEW)} more limits passed</span></li>}
        {its.unknown.slice(0, FEW).map((text) => <li key={text}><SpeaksMark speaks="missing" /><span>{typeset(text)}</span></li>)}
      </ul>
    </>
  );
}

/** Without what stands beside them: counts, what is not known, and what the first of the failures says. */
function otherReasons({ reasons, unknown, failures }: Judgement): string[] {
  return reasons.slice(failures.length ? 1 : 0).filter((text) => !isCount(text) && !unknown.includes(text));
}

/** Counts against their goals stand above already. */
function isCount(reason: string): boolean {
  return /^\d.* so far$/.test(reason);
}
