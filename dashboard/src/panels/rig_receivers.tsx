/** Who is called: each receiver of alarms with how it goes, what it promises, and a test whose result is told as it is. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { capital } from "../core/format";
import { type Receiver, type Receivers, calledWords, errorWords, lifeWords, sentWords, waitingWords } from "../core/receivers";
import { asksFirst } from "../core/visitor";
import { receivers, testReceiver } from "../feed/receivers";
import type { PartProps } from "./rig_part";

const AGAIN_MS = 3000; // the service takes a changed file within two seconds

export function RigReceivers({ picture, kept }: Pick<PartProps, "picture" | "kept">): JSX.Element {
  const found = useSignal<Receivers | null>(null);
  const look = (): Promise<void> => receivers().then((now) => { found.value = now; }, () => undefined); // the alarm line tells of a service that is gone
  useEffect(() => {
    void look();
    const timer = setInterval(() => void look(), AGAIN_MS);
    return () => clearInterval(timer);
  }, []);
  const its = found.value;
  return (
    <section class="sheet receivers" aria-labelledby="receivers">
      <h2 id="receivers"><span>Who is called</span> <small>receivers of alarms</small></h2>
      {!its && <p class="second">Looking.</p>}
      {its?.refusal && <p class="wrong" role="alert">{its.refusal} {its.receivers.length > 0 && "What held before goes on."}</p>}
      {its?.trouble && <p class="wrong" role="alert">{its.trouble}</p>}
      {its && !its.receivers.length && <p><b>Nobody is called.</b> An alarm is seen on this page only, by who looks at it.</p>}
      {its && its.receivers.length > 0 && kept && (kept.demo
        ? <p>{picture.rig} is a demo motor: its alarms are shown on the page and <b>sent to nobody</b>.</p>
        : calledWords(picture.rig, kept.settings.calling, its.receivers).map((sentence) => <p key={sentence}>{sentence}</p>))}
      {its && its.receivers.length > 0 && (
        <ul>{its.receivers.map((one) => <One key={one.name} one={one} now_utc_s={picture.now_utc_s} onTested={() => void look()} />)}</ul>
      )}
      {its && its.receivers.length > 0 && asksFirst.value && <p class="second">A test is sent from the PC only.</p>}
      {its && <p class="second note file">Set up in {its.file}, by server/notify/NOTIFY.md; what is secret in it is shown nowhere. A message that arrives stops no motor.</p>}
    </section>
  );
}

function One({ one, now_utc_s, onTested }: { readonly one: Receiver; readonly now_utc_s: number; readonly onTested: () => void }): JSX.Element {
  const busy = useSignal(false);
  const result = useSignal<{ readonly failed: boolean; readonly words: string } | null>(null);
  const test = (): void => {
    [busy.value, result.value] = [true, null];
    testReceiver(one.name).then(
      (words) => { result.value = { failed: false, words }; },
      (error: Error) => { result.value = { failed: true, words: error.message }; },
    ).finally(() => { busy.value = false; onTested(); });
  };
  const error = errorWords(one);
  const waits = waitingWords(one, now_utc_s);
  return (
    <li>
      <div class="told">
        <p><b>{one.name}</b> <span class="second">{[one.kind, one.place].join(", ")}</span></p>
        <p>{capital(sentWords(one, now_utc_s))}{waits ? <>; <b>{waits}</b>.</> : "; nothing waits."}</p>
        {error && <p class="wrong">{error}</p>}
        <p class="second note">{capital(one.promise)}. {one.everything ? "It gets everything, at any hour. " : ""}{capital(lifeWords(one))}.</p>
      </div>
      {!asksFirst.value && <button class="btn" disabled={busy.value} onClick={test}>Send a test to {one.name}</button>}
      <p class={result.value?.failed ? "wrong came" : "came"} role="status">{busy.value ? "Sending." : result.value && <><b>{result.value.failed ? "The test failed." : "The test:"}</b> {result.value.words}</>}</p>
    </li>
  );
}
