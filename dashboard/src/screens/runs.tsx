/** Runs: find a recorded run, read what happened in it, tag, note, delete with undo, export, play it; lay two on each other. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { pairOf, ticked, ticksOf } from "../core/compare";
import { type Deleted, REFERENCE, type Run, type WholeRun, referenceOf, whenWords } from "../core/runs";
import { Compare } from "../panels/compare";
import { RunPage } from "../panels/run_page";
import { RunsDeleted } from "../panels/runs_deleted";
import { RunsList } from "../panels/runs_list";
import { Waiting } from "../panels/waiting";
import { deleteRun, deletedRuns, playRun, runs, undoDelete, wholeRun } from "../feed/runs";
import { go } from "./route";
import type { Screen, ScreenProps } from "./screen";

const SOON_MS = 2000; // while something of the list is about to change
const LATER_MS = 10_000;
const TYPED_MS = 200; // after the last letter of a search

function RunsView({ store, onRig }: ScreenProps): JSX.Element {
  const words = useSignal("");
  const found = useSignal<readonly Run[] | null>(null);
  const deleted = useSignal<readonly Deleted[]>([]);
  const run = useSignal<WholeRun | null>(null);
  const trouble = useSignal("");
  const undo = useSignal<WholeRun | null>(null); // the run that was deleted last, until the next action
  const opened = useSignal(openedRun());
  const leaving = useSignal(""); // the run that is being deleted
  const picked = useSignal<readonly string[]>(ticksOf(opened.value));
  const third = useSignal(false); // one too many was pressed
  const references = useSignal<readonly Run[]>([]);
  const failed = (error: Error): void => { trouble.value = error.message; };

  const list = async (): Promise<void> => {
    const wanted = words.value;
    const [those, gone] = await Promise.all([runs(wanted), deletedRuns()]);
    if (wanted === words.value) found.value = those;
    deleted.value = gone;
    trouble.value = "";
  };
  const read = async (): Promise<void> => {
    const name = opened.value;
    if (name && name === leaving.value) return;
    if (!name || ticksOf(name).length) { run.value = null; return; }
    const [whole, tagged] = await Promise.all([wholeRun(name), runs(`#${REFERENCE}`)]);
    if (name === opened.value) [run.value, references.value] = [whole, tagged];
  };
  const again = (): void => { void list().catch(failed); void read().catch(failed); };

  useEffect(() => {
    const look = (): void => {
      opened.value = openedRun();
      const ticks = ticksOf(opened.value);
      picked.value = ticks.length || picked.value.length === 2 ? ticks : picked.value;
      third.value = false;
    };
    window.addEventListener("hashchange", look);
    return () => window.removeEventListener("hashchange", look);
  }, []);
  useEffect(() => {
    trouble.value = "";
    if (opened.value) undo.value = null;
    read().catch((error: Error) => { run.value = null; failed(error); });
  }, [opened.value]);
  useEffect(() => {
    const timer = setTimeout(() => void list().catch(failed), words.value ? TYPED_MS : 0);
    return () => clearTimeout(timer);
  }, [words.value]);
  useEffect(() => {
    const soon = found.value?.some((each) => each.recording || (!each.summed_up && !each.trouble && each.closed_utc_s !== null));
    const timer = setTimeout(again, soon ? SOON_MS : LATER_MS);
    return () => clearTimeout(timer);
  }, [found.value]);

  const play = (name: string, utc_s: number | null): void => {
    playRun(name, utc_s).then((rig) => { onRig(rig); go("watch"); }, failed);
  };
  const remove = (whole: WholeRun): void => {
    leaving.value = whole.name;
    deleteRun(whole.name).then(() => { undo.value = whole; history.replaceState(null, "", "#runs"); opened.value = ""; again(); }, failed).finally(() => { leaving.value = ""; });
  };
  const bringBack = (whole: WholeRun): void => {
    undoDelete(whole.name).then(() => { undo.value = null; again(); go(`runs/${whole.name}`); }, failed);
  };
  const pick = (name: string): void => {
    const next = ticked(picked.value, name);
    [picked.value, third.value] = [next.picked, next.refused];
    if (next.picked.length === 2) go(`runs/${next.picked.join("+")}`);
    else if (opened.value.includes("+")) go("runs");
  };
  const find = (wanted: string): void => { words.value = wanted; if (narrow()) go("runs"); };
  const pair = pairOf(opened.value);
  const one = opened.value !== "" && (pair !== null || !ticksOf(opened.value).length);
  const reading = one && !pair && !trouble.value && run.value?.name !== opened.value;
  const now_utc_s = store.calm.value?.now_utc_s ?? Date.now() / 1000;
  return (
    <div class={`cols runs${one ? " one-open" : " list"}`}>
      <div class="stack">
        {trouble.value && <p class="trouble" role="alert">{trouble.value}</p>}
        {undo.value && (
          <p class="sheet undo" role="status">Run of {whenWords(undo.value.opened_utc_s, now_utc_s)} deleted. <button class="btn" onClick={() => bringBack(undo.value!)}>Undo</button></p>
        )}
        <RunsList found={found.value} words={words} opened={opened.value} picked={picked.value} onPick={pick} now_utc_s={now_utc_s} />
        {picked.value.length === 1 && <p class="sheet second hint" role="status">Tick one more run: the two are laid on each other.</p>}
        {third.value && <p class="sheet hint" role="status">Two runs can be laid on each other; of three none could be told apart. Untick one of the two first.</p>}
        <RunsDeleted deleted={deleted.value} onChange={again} />
      </div>
      <div class="stack">
        {reading && <Waiting key={opened.value} what="Reading the run" sheet />}
        {pair ? <Compare pair={pair} runs={found.value ?? []} /> : run.value
          ? <RunPage key={run.value.name} run={run.value} reference={referenceOf(run.value, references.value)} onFind={find} leaving={leaving.value === run.value.name} onPlay={(utc_s) => play(run.value!.name, utc_s)} onDelete={() => remove(run.value!)} onChange={again} />
          : !reading && picked.value.length === 0 && found.value && found.value.length > 0 && <p class="sheet second none">Choose a run of the list: it opens here, and plays through the live screens, through the same calculation as when it was live.</p>}
      </div>
    </div>
  );
}

/** Whether the list and what is opened take turns in one column. */
function narrow(): boolean {
  return matchMedia("(max-width: 1100px)").matches;
}

/** "#runs/20261125-1402-heron-1" -> the run's name; of two that are compared, both with "+" between. */
function openedRun(): string {
  const [screen, name] = location.hash.replace(/^#/, "").split("/");
  return screen === "runs" ? (name ?? "") : "";
}

export const RUNS: Screen = { key: "runs", name: "Runs", far: false, view: RunsView };
