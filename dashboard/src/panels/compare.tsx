/** Two runs laid on each other: their starts drawn together, and a table of what differs beyond both uncertainties. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { type Comparison, type Difference, START, changeWords, figureWords, labelOf, names, sentence } from "../core/compare";
import { number, typeset, withUnit } from "../core/format";
import { type Run, whenWords, whoseWords } from "../core/runs";
import { Drawing, type TableData } from "../draw/drawing";
import { TwoStarts } from "../draw/two_starts";
import { Refusal } from "../feed/api";
import { compare } from "../feed/compare";
import { Waiting } from "./waiting";

const height = (width: number): number => (width < 560 ? 290 : 320);
const ROWS = 12; // of the drawing as a table
const NOT_YET = 503; // one of them is not summed up
const AGAIN_MS = 3000; // then it is asked again, as long as it is looked at

interface Props {
  readonly pair: readonly [string, string];
  readonly runs: readonly Run[]; // those of the list, for names while it is computed
}

export function Compare({ pair, runs }: Props): JSX.Element {
  const at = useSignal(""); // the service chooses: a start where both have one
  const found = useSignal<Comparison | null>(null);
  const trouble = useSignal("");
  const asked = useSignal(""); // what is waited for
  const later = useSignal(""); // why it is asked again in a while
  useEffect(() => {
    const given_up = new AbortController();
    let again = 0;
    const tell = (comparison: Comparison | null, said: string, wait: string): void => {
      [found.value, trouble.value, later.value] = [comparison, said, wait];
      if (comparison || wait) asked.value = "";
    };
    const put = (): void => {
      asked.value = `${pair.join("+")} ${at.value}`;
      compare(pair, at.value, given_up.signal).then(
        (comparison) => { if (!given_up.signal.aborted) tell(comparison, "", ""); },
        (error: Error) => {
          if (given_up.signal.aborted) return;
          const notYet = error instanceof Refusal && error.status === NOT_YET;
          tell(null, notYet ? "" : error.message, notYet ? error.message : "");
          if (notYet) again = window.setTimeout(put, AGAIN_MS);
        },
      );
    };
    [trouble.value, later.value] = ["", ""];
    put();
    return () => { given_up.abort(); window.clearTimeout(again); };
  }, [pair.join("+"), at.value]);
  const comparison = found.value;
  return (
    <div class="stack compare">
      <a class="back" href="#runs">All runs</a>
      {trouble.value && <p class="trouble" role="alert">{trouble.value}</p>}
      {later.value && <p class="sheet second none" role="status">{later.value}</p>}
      {!comparison && !trouble.value && !later.value && <p class="sheet second none" role="status">Playing the two starts, {namesOf(pair, runs)}, to lay them on each other.</p>}
      {asked.value && !trouble.value && !later.value && <Waiting key={asked.value} what="Playing a stretch of both runs" sheet />}
      {comparison && <Laid comparison={comparison} onAt={(kind) => (at.value = kind)} />}
      {comparison && <Differs comparison={comparison} />}
    </div>
  );
}

function namesOf(pair: readonly string[], runs: readonly Run[]): string {
  return pair.map((name) => { const run = runs.find((each) => each.name === name); return run ? whenWords(run.opened_utc_s, run.opened_utc_s) : name; }).join(" and ");
}

function Laid({ comparison, onAt }: { comparison: Comparison; onAt: (kind: string) => void }): JSX.Element {
  const [older, newer] = names(comparison);
  const { kinds, kind: at } = comparison;
  const where = at === START ? "power on" : (kinds.find(({ kind }) => kind === at)?.text ?? at).replace(/^./, (first) => first.toLowerCase());
  return (
    <Drawing
      title={at === START ? "Two starts" : "Two runs"} note={`laid on each other at ${where}; thick: ${newer}, thin: ${older}`}
      sentence={sentence(comparison)} height={height} table={() => tableOf(comparison)}
      words={(size) => <TwoStarts comparison={comparison} size={size} speedWords={(rpm) => withUnit(number(rpm), "r/min")} />}
      below={
        <div class="row">
          {kinds.length > 1 && (
            <label class="row"><span>Laid on each other at</span>
              <select value={at} onChange={(event) => onAt(event.currentTarget.value)}>{kinds.map(({ kind, text }) => <option key={kind} value={kind}>{text}</option>)}</select>
            </label>
          )}
          {at !== START && !kinds.some(({ kind }) => kind === START) && <p class="second">Not at power on: a start was not seen in both.</p>}
          {[comparison.newer, comparison.older].map((side) => <a key={side.run} class="btn" href={`#runs/${side.run}`}>Open {side === comparison.newer ? newer : older}</a>)}
          {comparison.older.motor !== comparison.newer.motor && (
            <p class="second">Two motors: {whoseWords({ ...comparison.older, type: "", source: "" })} on {older}, {whoseWords({ ...comparison.newer, type: "", source: "" })} on {newer}.</p>
          )}
        </div>
      }
    />
  );
}

function tableOf(comparison: Comparison): TableData {
  const [older, newer] = names(comparison);
  const { step_s, from_s, current_a } = comparison.newer;
  const every = Math.max(1, Math.round(current_a.length / ROWS));
  const cell = (value: number | null | undefined, digits: number, unit: string): string => (value == null ? "–" : withUnit(number(value, digits), unit));
  const places = current_a.map((_, k) => k).filter((k) => k % every === 0);
  return {
    head: ["time", `speed, ${older}`, `speed, ${newer}`, `current, ${older}`, `current, ${newer}`],
    rows: places.map((k) => [
      cell(from_s + k * step_s, 2, "s"),
      ...[comparison.older, comparison.newer].map((side) => cell(side.speed_rpm[k], 0, "r/min")),
      ...[comparison.older, comparison.newer].map((side) => cell(side.current_a[k], 2, "A")),
    ]),
  };
}

function Differs({ comparison }: { comparison: Comparison }): JSX.Element {
  const [older, newer] = names(comparison);
  const of = (...outcomes: readonly Difference["outcome"][]): readonly Difference[] => comparison.differences.filter(({ outcome }) => outcomes.includes(outcome));
  const [rows, alike, unknown] = [of("differs", "absent"), of("alike"), of("unknown")];
  return (
    <section class="sheet differs" aria-labelledby="differs">
      <h2 id="differs">What differs <small>in the stretch drawn, the first of its kind in each run: only what is beyond both uncertainties, largest first; ± is the 95 % uncertainty</small></h2>
      {rows.length > 0 && (
        <table>
          <thead><tr><th scope="col"><span class="sr">figure</span></th><th scope="col" class="num">{older}</th><th scope="col" class="num">{newer}</th><th scope="col" class="num">change</th></tr></thead>
          <tbody>{rows.map((each) => <Row key={each.key} each={each} />)}</tbody>
        </table>
      )}
      {!rows.some(({ outcome }) => outcome === "differs") && <p>No figure of the two differs beyond both uncertainties.</p>}
      {alike.length > 0 && <p class="second">Alike within both: {alike.map(({ label }) => label).join("; ")}.</p>}
      {unknown.length > 0 && <p class="second">Not told apart: {unknown.map(({ label, why }) => `${label} (${typeset(why)})`).join("; ")}.</p>}
    </section>
  );
}

function Row({ each }: { each: Difference }): JSX.Element {
  const [older, newer] = [figureWords(each.older, each), figureWords(each.newer, each)];
  const absent = each.outcome === "absent";
  return (
    <tr>
      <th scope="row" title={each.definition}>{labelOf(each)}</th>
      <td class="num"><Figure words={older} /></td>
      <td class="num"><b><Figure words={newer} /></b></td>
      <td class={absent ? "why" : "num"}>{typeset(changeWords(each))}</td>
    </tr>
  );
}

function Figure({ words: [value, off] }: { words: readonly [string, string] }): JSX.Element {
  return <>{value}{off && <small class="off"> {off}</small>}</>;
}
