/** One recorded run: what it is, what happened in it, a person's note; played from its beginning or from a moment. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { clock, typeset } from "../core/format";
import { type Run, type WholeRun, accountNote, facts, whenWords, whoseWords, workWords } from "../core/runs";
import { RunStrip, STRIP_HEIGHT } from "../draw/run_strip";
import { watchWidth } from "../draw/drawing";
import { endRun, writeNote } from "../feed/runs";
import { RunChecks } from "./run_checks";
import { RunExport } from "./run_export";
import { RunTags } from "./run_tags";
import { Waiting } from "./waiting";

const FEW = 12;
const NOTE_MAX = 2000;
const SAVE_MS = 600; // after the last letter

interface Props {
  readonly run: WholeRun;
  readonly reference: Run | null; // that it can be compared with
  readonly onPlay: (utc_s: number | null) => void;
  readonly onFind: (words: string) => void;
  readonly leaving: boolean; // it is being deleted
  readonly onDelete: () => void;
  readonly onChange: () => void; // it is another now: read it again
}

export function RunPage({ run, reference, leaving, onPlay, onFind, onDelete, onChange }: Props): JSX.Element {
  const trouble = useSignal("");
  const end = (): void => { endRun(run.rig).then(onChange, (error: Error) => { trouble.value = error.message; }); };
  return (
    <>
    <section class="sheet run" aria-labelledby="run">
      <a class="back" href="#runs">All runs</a>
      <h2 id="run" tabIndex={-1}>Run of {whenWords(run.opened_utc_s, run.opened_utc_s)} <small>{whoseWords(run)}</small></h2>
      <Strip run={run} onPlay={onPlay} />
      <div class="row">
        <button class="btn first" disabled={run.trouble !== "" && !run.summed_up} onClick={() => onPlay(null)}>Play</button>
        {reference && run.start && <a class="btn" href={`#runs/${reference.name}+${run.name}`}>Compare with the reference of {whenWords(reference.opened_utc_s, run.opened_utc_s)}</a>}
        {run.recording ? <button class="btn" onClick={end}>End this run</button> : <button class="btn" onClick={onDelete}>Delete this run</button>}
        {run.recording && <span class="second">It is still open. End it, then it can be deleted.</span>}
      </div>
      {trouble.value && <p class="trouble" role="alert">{trouble.value}</p>}
      {workWords(run) && <Waiting what={workWords(run)} share={run.summing_up_share} />}
      {run.trouble && <p class="second">{run.trouble}</p>}
      {run.thinned && <p class="second">{run.thinned}</p>}
      {run.troubles.map((sentence) => <p key={sentence} class="second">{sentence}</p>)}
      <RunTags key={`tags ${run.name}`} run={run.name} tags={run.tags} onFind={onFind} onSaved={onChange} />
      <Note key={run.name} name={run.name} text={run.note} onSaved={onChange} />
      <dl class="fields">{facts(run).map(([name, words]) => <div key={name}><dt>{name}</dt><dd>{words}</dd></div>)}</dl>
      <Account run={run} />
      <RunChecks run={run.name} />
      <Events run={run} onPlay={onPlay} />
    </section>
    <RunExport run={run} leaving={leaving} />
    </>
  );
}

function Strip({ run, onPlay }: { run: WholeRun; onPlay: (utc_s: number) => void }): JSX.Element | null {
  const box = useRef<HTMLDivElement>(null);
  const width = useSignal(0);
  useEffect(() => (box.current ? watchWidth(box.current, (px) => { width.value = Math.floor(px); }) : undefined), [run.overview === null]);
  const from = run.opened_utc_s;
  const to = from + (run.length_s ?? 0);
  if (!run.overview) return null;
  const press = (event: PointerEvent): void => {
    const { left, width: wide } = box.current!.getBoundingClientRect();
    onPlay(from + ((event.clientX - left) / wide) * (to - from));
  };
  return (
    <div ref={box} class="position plot" style={{ height: `${STRIP_HEIGHT}px` }} title="Press to play from there" onPointerDown={press}>
      {width.value > 0 && <RunStrip width={width.value} from_utc_s={from} to_utc_s={to} overview={run.overview} events={run.events} gaps={run.gaps} />}
    </div>
  );
}

/** Every sample of the run, stored or missing for a reason, as sentences. */
function Account({ run: { account, recording, counted_from_utc_s } }: { run: WholeRun }): JSX.Element | null {
  if (!account.length) return null;
  return (
    <details class="account">
      <summary>Account of all samples <span class="second">{accountNote(account, recording, counted_from_utc_s)}</span></summary>
      <ul>{account.map(({ words }) => <li key={words}>{typeset(words)}</li>)}</ul>
    </details>
  );
}

/** Saved at once, a moment after the last letter and when the field is left. */
function Note({ name, text, onSaved }: { name: string; text: string; onSaved: () => void }): JSX.Element {
  const written = useSignal(text);
  const said = useSignal("");
  const saved = useRef(text);
  const timer = useRef(0);
  const save = (): void => {
    clearTimeout(timer.current);
    const note = written.value;
    if (note === saved.current) return;
    saved.current = note;
    writeNote(name, note).then(() => { said.value = "saved"; onSaved(); }, (error: Error) => { saved.current = "\0"; said.value = error.message; });
  };
  useEffect(() => save, []); // who leaves for another run leaves what was written
  const type = (letters: string): void => {
    written.value = letters;
    said.value = "";
    clearTimeout(timer.current);
    timer.current = window.setTimeout(save, SAVE_MS);
  };
  return (
    <label class="notefield">
      <span>Note <small class="second" role="status">{said.value}</small></span>
      <textarea rows={2} maxLength={NOTE_MAX} value={written.value} placeholder="what this run was about" onInput={(event) => type(event.currentTarget.value)} onBlur={save} />
    </label>
  );
}

function Events({ run: { events, summed_up, recording, counted_from_utc_s: since_utc_s }, onPlay }: { run: WholeRun; onPlay: (utc_s: number) => void }): JSX.Element {
  const all = useSignal(false);
  const shown = all.value ? events : events.slice(0, FEW);
  return (
    <div class="story">
      <h2>What happened <small>press a moment to play from there</small>
        {events.length > FEW && <button class="as-table" aria-expanded={all.value} onClick={() => (all.value = !all.value)}>{all.value ? "the first few" : `all ${events.length}`}</button>}
      </h2>
      {events.length === 0 && <p class="second">{summed_up || recording ? "Nothing that was told." : "Not known before it is summed up."}</p>}
      {recording && since_utc_s !== null && <p class="second">Since {clock(since_utc_s)}, when the service was started again; what was before is told once the run has ended.</p>}
      <ol>
        {shown.map((event) => (
          <li key={`${event.utc_s} ${event.text}`} class={event.decisive ? "decisive" : ""}>
            <button class="moment" aria-label={`Play from ${clock(event.utc_s)}: ${event.text}`} onClick={() => onPlay(event.utc_s)}>{clock(event.utc_s, true)}</button>
            <span class="dot" aria-hidden="true" />
            <span>{typeset(event.text)}{event.detail && <small>{typeset(event.detail)}</small>}</span>
          </li>
        ))}
      </ol>
    </div>
  );
}
