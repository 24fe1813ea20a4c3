/** The checks of the wiring that are kept with a run: each opens as a page of its own that prints on one sheet. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { clock } from "../core/format";
import { type CheckLine, checkPage, keptChecks } from "../feed/wiring";

export function RunChecks({ run }: { run: string }): JSX.Element | null {
  const checks = useSignal<readonly CheckLine[]>([]);
  useEffect(() => void keptChecks(run).then((found) => { checks.value = found; }, () => undefined), [run]); // a run that is gone is told above
  if (!checks.value.length) return null;
  return (
    <div class="checks">
      <h2>Checks of the wiring <small>each a page to print or send</small></h2>
      <ul>
        {checks.value.map((check) => (
          <li key={check.number}>
            <span>{check.word}<small>{[clock(check.kept_utc_s), check.below, check.steps ? `${check.steps} steps of the guided check` : ""].filter(Boolean).join("; ")}</small></span>
            <a class="btn" href={checkPage({ run, number: check.number })} target="_blank" rel="noopener" aria-label={`Open check ${check.number} of ${clock(check.kept_utc_s)}`}>Open</a>
          </li>
        ))}
      </ul>
    </div>
  );
}
