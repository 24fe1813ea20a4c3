/** What paired devices ask for: answered on the PC; on the device itself it stands that it waits. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import type { Store } from "../core/store";
import { type Asked, type Question, asksFirst, leftOf } from "../core/visitor";
import { answerQuestion } from "../feed/access";

export function Consent({ store }: { readonly store: Store }): JSX.Element {
  const asked = store.asked.value;
  const own = asksFirst.value;
  return (
    <div class="asks" role="region" aria-label="Asked by other devices" aria-live="assertive">
      {store.linked.value && asked.questions.map((question) => (
        <section key={question.number} class="asked" aria-label={own ? "Waiting for the PC" : `${question.device} asks`}>
          {own ? <Waiting store={store} question={question} asked={asked} /> : <Answer store={store} question={question} asked={asked} />}
        </section>
      ))}
    </div>
  );
}

interface Props {
  readonly store: Store;
  readonly question: Question;
  readonly asked: Asked;
}

function Answer({ store, question, asked }: Props): JSX.Element {
  const trouble = useSignal("");
  const busy = useSignal(false);
  const answer = (accept: boolean): void => {
    busy.value = true;
    answerQuestion(question.number, accept).catch((error: Error) => { trouble.value = error.message; busy.value = false; });
  };
  return (
    <>
      <p><b>{question.device}</b> asks to <b>{question.act}</b>.{trouble.value && ` ${trouble.value}`}</p>
      <Left store={store} question={question} asked={asked} />
      <div class="row">
        <button class="btn" disabled={busy.value} onClick={() => answer(false)}>Refuse</button>
        <button class="btn first" disabled={busy.value} onClick={() => answer(true)}>Agree</button>
      </div>
    </>
  );
}

function Waiting({ store, question, asked }: Props): JSX.Element {
  return (
    <>
      <p><b>The PC is asked</b> whether you may {question.act}.</p>
      <Left store={store} question={question} asked={asked} />
    </>
  );
}

/** Not told again each second to who listens. */
function Left({ store, question, asked }: Props): JSX.Element {
  return <span class="left" aria-live="off">{leftOf(question, asked, store.now_ms.value)} s left</span>;
}
