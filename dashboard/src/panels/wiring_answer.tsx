/** Verdicts on the wiring as text: question, answer, signs for and against, what is open, the next test with its caution first. */
import type { JSX } from "preact";
import { typeset } from "../core/format";
import { type Mend, type Sign, type Verdict, mendWords } from "../core/wiring";
import { CautionMark, SpeaksMark } from "../draw/marks";
import { MendDrawing } from "./wiring_plugs";

const SPOKEN: Readonly<Record<Sign["speaks"], string>> = { for: "speaks for it", against: "speaks against it", missing: "not seen yet" };

export function WiringAnswer({ verdict, mends, lead }: { verdict: Verdict; mends: readonly Mend[]; lead: boolean }): JSX.Element {
  const { certainty } = verdict;
  return (
    <section class={`sheet verdict${lead ? " lead" : ""}`} aria-label={verdict.question}>
      <h2 class="question">{verdict.question}</h2>
      <p class={`answer-words${certainty === "probable" ? " doubt-block" : ""}`}>{typeset(verdict.answer)}</p>
      {mends.filter(({ plugs }) => plugs > 0).map((mend) => (
        <figure key={mend.acts.join()} class="mend">
          <MendDrawing mend={mend} />
          <figcaption>{mendWords(mend)}</figcaption>
        </figure>
      ))}
      <ul class="signs">
        {verdict.signs.map((sign) => <li key={sign.text}><SpeaksMark speaks={sign.speaks} /><span><span class="sr">{SPOKEN[sign.speaks]}: </span>{typeset(sign.text)}</span></li>)}
        {verdict.open.map((open) => <li key={open}><SpeaksMark speaks="missing" /><span><span class="sr">open: </span>{typeset(open)}</span></li>)}
      </ul>
      {verdict.next_test && (
        <div class="next">
          {verdict.next_test.caution && <p class="before"><CautionMark /><span>{typeset(verdict.next_test.caution)}</span></p>}
          <p><b>Next test</b> {typeset(verdict.next_test.text)}</p>
        </div>
      )}
    </section>
  );
}
