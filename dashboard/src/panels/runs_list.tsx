/** The recorded runs, newest first: when, how long, how they started, what happened. Words find them. */
import type { Signal } from "@preact/signals";
import { useSignal } from "@preact/signals";
import { Fragment, type JSX } from "preact";
import { typeWords, typeset } from "../core/format";
import { type Run, filters, happenedWords, lengthWords, narrowed, whenWords, whoseWords, workWords } from "../core/runs";
import { StartLine } from "../draw/run_strip";
import { Waiting } from "./waiting";

const FEW = 60;

interface Props {
  readonly found: readonly Run[] | null; // null: not known yet
  readonly words: Signal<string>;
  readonly opened: string; // the run that is opened, or ""
  readonly picked: readonly string[]; // ticked, to be compared
  readonly onPick: (name: string) => void;
  readonly now_utc_s: number;
}

export function RunsList({ found: all_found, words, opened, picked, onPick, now_utc_s }: Props): JSX.Element {
  const all = useSignal(false);
  const [type, kind] = [useSignal(""), useSignal("")];
  const offered = filters(all_found ?? []);
  const found = all_found && narrowed(all_found, type.value, kind.value);
  const shown = all.value ? found : found?.slice(0, FEW);
  const most = mostOf(all_found ?? []);
  const wanted = words.value.trim();
  const narrow = type.value !== "" || kind.value !== "";
  return (
    <section class="sheet runs" aria-labelledby="runs">
      <h2 id="runs">Recorded runs <small>{found && !wanted && !narrow ? `${found.length}; choose one to play, tick two to compare` : ""}</small></h2>
      <div class="find">
        <input type="search" aria-label="Find runs" placeholder="motor, what happened, note, tag" value={words.value} onInput={(event) => (words.value = event.currentTarget.value)} />
        <select aria-label="Motor type" value={type.value} onChange={(event) => (type.value = event.currentTarget.value)}>
          <option value="">any type</option>
          {offered.types.map((each) => <option key={each} value={each}>{typeWords(each)}</option>)}
        </select>
        <select aria-label="What happened" value={kind.value} onChange={(event) => (kind.value = event.currentTarget.value)}>
          <option value="">anything happened</option>
          {offered.kinds.map(([each, said]) => <option key={each} value={each}>{said}</option>)}
        </select>
      </div>
      {found === null && <p class="second">Looking at the recorded runs.</p>}
      {found === null && <Waiting what="Reading the list" />}
      {found && found.length > 0 && (
        <table>
          <thead><tr><th scope="col"><span class="sr">compare</span></th><th scope="col">when</th><th scope="col" class="num">length</th><th scope="col" class="wide">start current, 1.2 s</th><th scope="col">what happened</th></tr></thead>
          <tbody>{shown!.map((run) => <Row key={run.name} run={run} opened={run.name === opened} picked={picked.includes(run.name)} onPick={() => onPick(run.name)} most_a={most.get(run.motor) ?? 1} now_utc_s={now_utc_s} />)}</tbody>
        </table>
      )}
      {found && found.length > FEW && !all.value && <button class="btn" onClick={() => (all.value = true)}>Show all {found.length}</button>}
      {found && <p class="second" role="status">{countWords(found.length, wanted, narrow)}</p>}
    </section>
  );
}

function countWords(count: number, wanted: string, narrow: boolean): string {
  if (narrow && !wanted) return count === 0 ? "No run is like that." : count === 1 ? "1 run is like that." : `${count} runs are like that.`;
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

interface RowProps {
  readonly run: Run;
  readonly opened: boolean;
  readonly picked: boolean;
  readonly onPick: () => void;
  readonly most_a: number;
  readonly now_utc_s: number;
}

function Row({ run, opened, picked, onPick, most_a, now_utc_s }: RowProps): JSX.Element {
  const what = happenedWords(run);
  const when = whenWords(run.opened_utc_s, now_utc_s);
  const whose = whoseWords(run);
  return (
    <tr class={`${opened ? "here" : ""}${picked ? " ticked" : ""}`}>
      <td class="pick"><label><input type="checkbox" aria-label={`Compare the run of ${when}`} checked={picked} onClick={(event) => { event.preventDefault(); onPick(); }} /></label></td>
      <td class="when"><a href={`#runs/${run.name}`} aria-current={opened ? "true" : undefined}>{when}</a><small title={whose}>{whose}</small></td>
      <td class="num">{lengthWords(run)}</td>
      <td class="wide">{run.start && <StartLine start={run.start} most_a={most_a} />}</td>
      <td><span class="told" title={what}>{typeset(what)}</span>{run.summing_up_share !== null && <>{" "}<progress aria-label={`${workWords(run)}: how far it is`} value={run.summing_up_share} /></>}{run.tags.map((tag) => <Fragment key={tag}> <span class="tag">{tag}</span></Fragment>)}{run.note && <small class="note">{run.note}</small>}</td>
    </tr>
  );
}
