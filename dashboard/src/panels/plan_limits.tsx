/** What means that a test has failed: limits of readings, of figures of each cycle, events and verdicts; each set in a small form. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import type { Choices } from "../core/alarms";
import { capital } from "../core/format";
import { LIMIT_TABLES, type LimitRow, type LimitTable, type Names, type PlanTables, limitFields, limitGiven, limitRows, limitValues, withLimit } from "../core/test_plan";
import { lacksLimit } from "../core/settings";
import { Form } from "./form";

interface Props {
  readonly tables: PlanTables;
  readonly ids: readonly string[]; // of readings that may have a limit
  readonly names: Names;
  readonly onSet: (tables: PlanTables) => Promise<unknown>;
}

const ADD: Readonly<Record<LimitTable, string>> = { readings: "a reading", cycles: "a figure of each cycle", events: "an event", verdicts: "a verdict" };

export function PlanLimits({ tables, ids, names, onSet }: Props): JSX.Element {
  const open = useSignal<{ readonly table: LimitTable; readonly key: string } | null>(null); // key "": a new one
  const trouble = useSignal("");
  const rows = limitRows(tables, names);
  const choices = (table: LimitTable): Choices => {
    const all: Choices = table === "readings" ? ids.map((id) => [id, names.reading(id)[0]]) : table === "cycles" ? names.figures.map(({ key, label, unit }) => [key, capital(unit ? `${label}, ${unit}` : label)]) : Object.entries(names.kinds[table]).map(([key, words]) => [key, capital(words)]);
    return all.filter(([key]) => !(key in (tables[table] ?? {})));
  };
  const remove = ({ table, key }: LimitRow): void => {
    trouble.value = "";
    onSet(withLimit(tables, table, key, null)).catch((error: Error) => { trouble.value = error.message; });
  };
  const now = open.value;
  return (
    <>
      <h3>It has failed when</h3>
      {rows.length ? (
        <table class="fails">
          <tbody>
            {rows.map((row) => (
              <tr key={`${row.table} ${row.key}`}>
                <th scope="row">{row.name}<small>{row.words}</small></th>
                <td class="e">
                  <button class="as-table" aria-label={`Change the limit of ${row.name}`} onClick={() => { open.value = row; }}>change</button>
                  <button class="as-table" aria-label={`Remove the limit of ${row.name}`} onClick={() => remove(row)}>remove</button>
                </td>
              </tr>
            ))}
          </tbody>
        </table>
      ) : <p class="second">Nothing is said: it cannot fail.</p>}
      {trouble.value && <p class="wrong" role="alert">{trouble.value}</p>}
      {now && <Limit key={`${now.table} ${now.key}`} tables={tables} table={now.table} name={now.key} choices={now.key ? [] : choices(now.table)} names={names} onSet={onSet} onLeave={() => { open.value = null; }} />}
      {!now && (
        <p class="adds"><span class="second">Add </span>{LIMIT_TABLES.filter((table) => choices(table).length).map((table) => <button key={table} class="as-table" onClick={() => { open.value = { table, key: "" }; }}>{ADD[table]}</button>)}</p>
      )}
    </>
  );
}

interface LimitProps extends Pick<Props, "tables" | "names" | "onSet"> {
  readonly table: LimitTable;
  readonly name: string; // "": which one is chosen in the form
  readonly choices: Choices;
  readonly onLeave: () => void;
}

function Limit({ tables, table, name, choices, names, onSet, onLeave }: LimitProps): JSX.Element {
  const unit = !name ? "" : table === "readings" ? names.reading(name)[1] : (names.figures.find(({ key }) => key === name)?.unit ?? "");
  const fields = limitFields(table, choices, unit);
  return (
    <Form
      label="A limit of the test" save="Set the limit" fields={fields} before={limitGiven(tables[table]?.[name], fields)} lacks={fields.some(({ key }) => key === "low") ? lacksLimit : undefined} onLeave={onLeave}
      onSave={(given) => onSet(withLimit(tables, table, name || given["of"] || "", limitValues(given, fields)))}
    />
  );
}
