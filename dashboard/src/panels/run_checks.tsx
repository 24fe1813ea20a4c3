/** The checks of the wiring that are kept with a run: each opens as a page of its own that prints on one sheet. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { clock, day } from "../core/format";
import { type CheckLine, type DeletedCheck, type RunChecksKept, checkPage, checksOf, deleteCheck, undoDeleteCheck } from "../feed/wiring";

export function RunChecks({ run }: { run: string }): JSX.Element | null {
  const checks = useSignal<RunChecksKept>({ kept: [], deleted: [] });
  const trouble = useSignal("");
  const look = (): Promise<void> => checksOf(run).then((found) => { checks.value = found; }, () => undefined); // a run that is gone is told above
  useEffect(() => void look(), [run]);
  const act = (doing: Promise<unknown>): void => {
    trouble.value = "";
    doing.then(look, (error: Error) => { trouble.value = error.message; });
  };
  const { kept, deleted } = checks.value;
  if (!kept.length && !deleted.length) return null;
  return (
    <div class="checks">
      <h2>Checks of the wiring {kept.length > 0 && <small>each a page to print or send</small>}</h2>
      <ul>{kept.map((check) => <Row key={check.number} run={run} check={check} act={act} />)}</ul>
      {trouble.value && <p class="trouble" role="alert">{trouble.value}</p>}
      {deleted.length > 0 && (
        <details>
          <summary>Deleted checks <span class="second">{deleted.length}; each is kept for 30 days</span></summary>
          <ul>{deleted.map((check) => <DeletedRow key={check.number} run={run} check={check} act={act} />)}</ul>
        </details>
      )}
    </div>
  );
}

interface RowProps<T> {
  readonly run: string;
  readonly check: T;
  readonly act: (doing: Promise<unknown>) => void;
}

function Row({ run, check, act }: RowProps<CheckLine>): JSX.Element {
  const where = { run, number: check.number };
  const which = `check ${check.number} of ${clock(check.kept_utc_s)}`;
  return (
    <li>
      <span>{check.word}<small>{[clock(check.kept_utc_s), check.below, check.steps ? `${check.steps} steps of the guided check` : ""].filter(Boolean).join("; ")}</small></span>
      <a class="btn" href={checkPage(where)} target="_blank" rel="noopener" aria-label={`Open ${which}`}>Open</a>
      <button class="btn" aria-label={`Delete ${which}`} onClick={() => act(deleteCheck(where))}>Delete</button>
    </li>
  );
}

function DeletedRow({ run, check, act }: RowProps<DeletedCheck>): JSX.Element {
  return (
    <li>
      <span>{check.word}<small>{clock(check.kept_utc_s)}; removed for good on {day(check.removed_utc_s, check.deleted_utc_s)}</small></span>
      <button class="btn" aria-label={`Bring back check ${check.number} of ${clock(check.kept_utc_s)}`} onClick={() => act(undoDeleteCheck({ run, number: check.number }))}>Bring back</button>
    </li>
  );
}
