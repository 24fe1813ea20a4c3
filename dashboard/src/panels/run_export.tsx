/** A run, or a stretch of it, as a file: what, from where to where, how large before it is made, how far it is; its report. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { type ExportWish, type Format, type Making, type Size, choices, makingWords, missing, spans, stateWords } from "../core/exports";
import { size } from "../core/format";
import { type WholeRun, whenWords } from "../core/runs";
import { Waiting } from "./waiting";
import { beginExport, beginFile, beginReport, exportSize, exportsOf, fileSize, formats, removeExport } from "../feed/exports";

const CHOSEN_MS = 300; // after the last choice: the size takes the service a moment
const WATCH_MS = 400; // while one is made

export function RunExport({ run, leaving }: { readonly run: WholeRun; readonly leaving: boolean }): JSX.Element | null {
  const known = useSignal<readonly Format[]>([]);
  const chosen = useSignal(0);
  const span = useSignal(0);
  const bytes = useSignal<Size | null>(null); // null: not known yet
  const whole = useSignal<Size | null>(null); // the run as one file
  const makings = useSignal<readonly Making[]>([]);
  const trouble = useSignal("");
  const all = choices(known.value);
  const places = spans(run.events);
  const [choice, place] = [all[chosen.value], places[span.value] ?? places[0]!];
  const wish: ExportWish | null = choice ? { as: choice.as, what: choice.what, from_utc_s: place.from_utc_s, to_utc_s: place.to_utc_s } : null;
  const failed = (error: Error): void => { trouble.value = error.message; };
  const look = (): void => { exportsOf(run.name).then((found) => { makings.value = found; }, failed); };
  const act = (doing: Promise<unknown>): void => { trouble.value = ""; doing.then(look, failed); };

  useEffect(() => { formats().then((found) => { known.value = found; }, failed); look(); }, [run.name]);
  useEffect(() => { if (!leaving) fileSize(run.name).then((found) => { whole.value = found; }, () => { whole.value = null; }); }, [run.name, leaving]);
  useEffect(() => {
    if (!wish || leaving) return undefined; // nobody is asked about a run that may just be gone
    const gone = new AbortController();
    bytes.value = null;
    trouble.value = "";
    const timer = setTimeout(() => exportSize(run.name, wish, gone.signal).then((found) => { bytes.value = found; }, (error: Error) => { if (!gone.signal.aborted) failed(error); }), CHOSEN_MS);
    return () => { gone.abort(); clearTimeout(timer); };
  }, [run.name, leaving, JSON.stringify(wish)]);
  useEffect(() => {
    if (!makings.value.some(({ state }) => state === "waiting" || state === "making")) return undefined;
    const timer = setTimeout(look, WATCH_MS);
    return () => clearTimeout(timer);
  }, [makings.value]);

  if (run.trouble && !run.summed_up) return null;
  const known_size = bytes.value;
  return (
    <section class="sheet export" aria-labelledby="export">
      <h2 id="export">Export <small>run of {whenWords(run.opened_utc_s, run.opened_utc_s)}</small></h2>
      <div class="row">
        <select aria-label="What to export" value={String(chosen.value)} onChange={(event) => (chosen.value = Number(event.currentTarget.value))}>
          {all.map(({ words }, k) => <option key={words} value={String(k)}>{words}</option>)}
        </select>
        <select aria-label="From where to where" value={String(span.value)} onChange={(event) => (span.value = Number(event.currentTarget.value))}>
          {(["", "A cycle", "Around an event"] as const).map((group) => {
            const options = places.flatMap((each, k) => (each.group === group ? [<option key={k} value={String(k)}>{each.words}</option>] : []));
            return group && options.length ? <optgroup key={group} label={group}>{options}</optgroup> : options;
          })}
        </select>
        <button class="btn first" disabled={!wish || (known_size !== null && !known_size.fits)} onClick={() => act(beginExport(run.name, wish!))}>
          {known_size ? `Export, ${size(known_size.bytes)}` : trouble.value ? "Export" : "Export, size not known yet"}
        </button>
      </div>
      {missing(known.value).map((words) => <p key={words} class="second">{words}</p>)}
      {wish && !known_size && !trouble.value && <Waiting key={JSON.stringify(wish)} what="Finding out how large it will be, by making two short stretches" />}
      {known_size && !known_size.fits && <p class="second">The disk has no room for it beside recordings: choose a shorter stretch.</p>}
      <div class="row">
        <button class="btn" onClick={() => act(beginReport(run.name, "pdf"))}>Make the report, PDF</button>
        <button class="btn" onClick={() => act(beginReport(run.name, "html"))}>Make the report, a page to print</button>
        <button class="btn" disabled={whole.value !== null && !whole.value.fits} title="With its notes and checks; slipring receive takes it in on another PC" onClick={() => act(beginFile(run.name))}>
          Save as one file{whole.value ? `, ${size(whole.value.bytes)}` : ""}
        </button>
      </div>
      {trouble.value && <p class="trouble" role="alert">{trouble.value}</p>}
      {makings.value.length > 0 && <ul class="makings">{makings.value.map((making) => <Row key={making.number} making={making} onRemove={() => act(removeExport(making.number))} />)}</ul>}
    </section>
  );
}

function Row({ making, onRemove }: { making: Making; onRemove: () => void }): JSX.Element {
  const busy = making.state === "waiting" || making.state === "making";
  const words = makingWords(making);
  return (
    <li>
      <span>{words}<small>{stateWords(making)}</small>{making.source && <small>{making.source}</small>}{busy && <progress aria-label={`${words}: how far it is`} value={making.share} max={1} />}</span>
      {making.file && <a class="btn" href={making.file} download={making.file_name} aria-label={`Fetch ${words}`}>Fetch</a>}
      <button class="btn" aria-label={`${busy ? "Cancel" : "Remove"} ${words}`} onClick={onRemove}>{busy ? "Cancel" : "Remove"}</button>
    </li>
  );
}
