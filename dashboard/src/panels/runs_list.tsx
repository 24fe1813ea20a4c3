/** The recorded runs, newest first: when, how long, how they started, what happened. Words find them. */
import type { Signal } from "@preact/signals";
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { typeset } from "../core/format";
import { type Run, happenedWords, lengthWords, whenWords, whoseWords } from "../core/runs";
import { StartLine } from "../draw/run_strip";

const FEW = 60;

interface Props {
  readonly found: readonly Run[] | null; // null: not known yet
  readonly words: Signal<string>;
  readonly opened: string; // the run that is opened, or ""
  readonly now_utc_s: number;
}

export function RunsList({ found, words, opened, now_utc_s }: Props): JSX.Element {
  const all = useSignal(false);
  const shown = all.value ? found : found?.slice(0, FEW);
  const most = mostOf(found ?? []);
  const wanted = words.value.trim();
  return (
    <section class="sheet runs" aria-labelledby="runs">
      <h2 id="runs">Recorded runs <small>{found && !wanted ? `${found.length}; choose one to read or play it` : ""}</small></h2>
      <input type="search" aria-label="Find runs" placeholder="motor, what happened, note" value={words.value} onInput={(event) => (words.value = event.currentTarget.value)} />
      {found === null && <p class="second">Looking at the recorded runs.</p>}
      {found && found.length > 0 && (
        <table>
          <thead><tr><th scope="col">when</th><th scope="col" class="num">length</th><th scope="col" class="wide">start current, 1.2 s</th><th scope="col">what happened</th></tr></thead>
          <tbody>{shown!.map((run) => <Row key={run.name} run={run} opened={run.name === opened} most_a={most.get(run.motor) ?? 1} now_utc_s={now_utc_s} />)}</tbody>
        </table>
      )}
      {found && found.length > FEW && !all.value && <button class="btn" onClick={() => (all.value = true)}>Show all {found.length}</button>}
      {found && <p class="second" role="status">{countWords(found.length, wanted)}</p>}
    </section>
  );
}

function countWords(count: number, wanted: string): string {
  if (wanted) return `${count === 0 ? "No run matches" : count === 1 ? "1 run matches" : `${count} runs match`} “${wanted}”.`;
  return count ? "" : "Nothing is recorded yet. A run opens by itself when a board is connected.";
}

/** The highest start current of each motor: its starts are drawn to one scale, so that they differ at a glance. */
function mostOf(runs: readonly Run[]): ReadonlyMap<string, number> {
  const most = new Map<string, number>();
  for (const { motor, start } of runs) {
    for (const value of start?.current_a ?? []) if (value !== null && value > (most.get(motor) ?? 0)) most.set(motor, value);
  }
  return most;
}

function Row({ run, opened, most_a, now_utc_s }: { run: Run; opened: boolean; most_a: number; now_utc_s: number }): JSX.Element {
  const what = happenedWords(run);
  return (
    <tr class={opened ? "on" : ""}>
      <td class="when"><a href={`#runs/${run.name}`} aria-current={opened ? "true" : undefined}>{whenWords(run.opened_utc_s, now_utc_s)}</a><small>{whoseWords(run)}</small></td>
      <td class="num">{lengthWords(run)}</td>
      <td class="wide">{run.start && <StartLine start={run.start} most_a={most_a} />}</td>
      <td>{typeset(what)}{run.note && <small class="note">{run.note}</small>}</td>
    </tr>
  );
}
