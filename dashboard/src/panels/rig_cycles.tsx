/** How the motor is used in the run that is recorded: its cycles, what changes from one to the next, and the duty type. */
import type { JSX } from "preact";
import { type Cycles, type Row, countWords, rowsOf, usageWords } from "../core/cycles";
import { typeset } from "../core/format";
import type { Picture } from "../core/picture";

export function RigCycles({ picture, its, trouble }: { readonly picture: Picture; readonly its: Cycles | null; readonly trouble: string }): JSX.Element {
  const last = its?.cycles.at(-1);
  return (
    <section class="sheet cycles" aria-labelledby="cycles">
      <h2 id="cycles"><span>Duty and cycles</span> <small>{its ? "of the run that is recorded; ± is the 95 % uncertainty" : "starts, stops and what changes between them"}</small></h2>
      {!its && <p class="second">{trouble || (picture.recording.run ? "Looking." : "No run is recorded now.")}</p>}
      {its && !last && <p class="second">No cycle was seen yet: the motor was not switched on, or its state is not known.</p>}
      {its && last && (
        <>
          <p>{countWords(its)} {usageWords(its)}</p>
          <Table rows={rowsOf(its, picture.speed_unit)} ended={its.cycles.filter(({ ended }) => ended).length} />
          <DutyType its={its.duty_type} />
        </>
      )}
    </section>
  );
}

function Table({ rows, ended }: { rows: readonly Row[]; ended: number }): JSX.Element {
  return (
    <table>
      <thead><tr><th scope="col">of a cycle</th><th scope="col" class="e">{ended ? "newest" : "under way"}</th><th scope="col" class="e range">lowest to highest{ended > 1 && ` of ${ended}`}</th><th scope="col" class="drift">drift from cycle to cycle</th></tr></thead>
      <tbody>
        {rows.map((row) => (
          <tr key={row.key}>
            <th scope="row" title={row.title}>{row.name}</th>
            <td class="e">{row.newest}{row.reason && <small>{row.reason}</small>}</td>
            <td class="e range">{row.range}</td>
            <td class="drift">{row.drifts ? <b>{row.drift}</b> : row.drift}{row.chance && <small>{row.chance}</small>}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

function DutyType({ its: { name, words, missing } }: { its: Cycles["duty_type"] }): JSX.Element {
  if (name) return <p><b>Duty type {name}</b> <span class="second">{typeset(words)}</span></p>;
  return (
    <details>
      <summary>No duty type seen yet <span class="second">what is missing</span></summary>
      <ul class="missing">{missing.map((each) => <li key={each}>{typeset(each)}</li>)}</ul>
    </details>
  );
}
