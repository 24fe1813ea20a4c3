/** Deleted runs: brought back, or removed for good, which alone cannot be undone and is asked about. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { day } from "../core/format";
import { type Deleted, whenWords } from "../core/runs";
import { removeForGood, undoDelete } from "../feed/runs";

interface Props {
  readonly deleted: readonly Deleted[];
  readonly onChange: () => void;
}

export function RunsDeleted({ deleted, onChange }: Props): JSX.Element | null {
  const asked = useSignal<string | null>(null); // which to remove for good; "": all
  const trouble = useSignal("");
  if (!deleted.length) return null;
  const act = (doing: Promise<unknown>): void => {
    trouble.value = "";
    doing.then(onChange, (error: Error) => { trouble.value = error.message; });
  };
  const yes = (): void => { const name = asked.value ?? ""; asked.value = null; act(removeForGood(name)); };
  return (
    <section class="sheet" aria-labelledby="deleted">
      <details>
        <summary id="deleted"><b>Deleted runs</b> <span class="second">{deleted.length}; each is kept for 30 days</span></summary>
        <ul class="choices">
          {deleted.map((run) => (
            <li key={run.name}>
              <span><b>{whenWords(run.opened_utc_s, run.deleted_utc_s)}</b><span class="second">{run.rig}; removed for good on {day(run.removed_utc_s, run.deleted_utc_s)}</span></span>
              <button class="btn" aria-label={`Bring back the run of ${whenWords(run.opened_utc_s, run.deleted_utc_s)}`} onClick={() => act(undoDelete(run.name))}>Bring back</button>
              <button class="btn" onClick={() => (asked.value = run.name)}>Remove for good</button>
            </li>
          ))}
        </ul>
        {deleted.length > 1 && <div class="row"><button class="btn" onClick={() => (asked.value = "")}>Remove all {deleted.length} for good</button></div>}
        {trouble.value && <p class="trouble" role="alert">{trouble.value}</p>}
      </details>
      {asked.value !== null && <Sure count={asked.value ? 1 : deleted.length} onYes={yes} onNo={() => (asked.value = null)} />}
    </section>
  );
}

function Sure({ count, onYes, onNo }: { count: number; onYes: () => void; onNo: () => void }): JSX.Element {
  const dialog = useRef<HTMLDialogElement>(null);
  const keep = useRef<HTMLButtonElement>(null);
  useEffect(() => {
    dialog.current?.showModal();
    keep.current?.focus(); // Enter alone removes nothing
  }, []);
  const what = count === 1 ? "this run" : `${count} runs`;
  return (
    <dialog ref={dialog} aria-labelledby="sure" onClose={onNo}>
      <h2 id="sure">Remove {what} for good?</h2>
      <p>What was recorded is gone then, and nothing brings it back.</p>
      <div class="row">
        <button class="btn first" onClick={onYes}>Remove {what}</button>
        <button class="btn" ref={keep} onClick={() => dialog.current?.close()}>Keep {count === 1 ? "it" : "them"}</button>
      </div>
    </dialog>
  );
}
