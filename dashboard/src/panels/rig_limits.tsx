/** The limits that a person wants readings to keep. Drawn and written beside the reading; alarms are set apart. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { DASH, capital, plain } from "../core/format";
import { limitWords, outside } from "../core/limits";
import type { Limits } from "../core/picture";
import { type Given, lacksLimit, numberFrom, typed } from "../core/settings";
import { keyOf, placeOf } from "../core/shown";
import type { Store } from "../core/store";
import { Form } from "./form";
import { type PartProps, changeable } from "./rig_part";

export function RigLimits({ store, picture, kept, change, undo }: PartProps): JSX.Element {
  const open = useSignal<string | null>(null); // the id of the reading, "" for a new one
  const kinds = Object.keys(picture.readings).filter((id) => typeof picture.readings[id]!.value === "number");
  const settings = changeable(kept) ? kept.settings : null;
  const all = settings?.limits ?? {};
  const save = (given: Given): Promise<unknown> => {
    const id = open.value || given["reading"] || "";
    return change({ limits: { ...all, [id]: { low: numberFrom(given["low"] ?? ""), high: numberFrom(given["high"] ?? "") } } });
  };
  const remove = (id: string): void => {
    const { [id]: _, ...others } = all;
    void change({ limits: others });
  };
  return (
    <section class="sheet limits" aria-labelledby="limits">
      <h2 id="limits"><span>Limits</span> <small>drawn and written beside the reading; an alarm is set under Alarms</small></h2>
      <Rows store={store} limits={picture.limits} onChange={settings ? (id) => { open.value = id; } : null} onRemove={remove} picture={picture} />
      {open.value !== null && settings && (
        <Form
          key={open.value} label="A limit" save="Set the limit" lacks={lacksLimit} onSave={save} onLeave={() => { open.value = null; }}
          fields={fields(open.value, kinds.filter((id) => !(id in all)).map((id) => [id, named(store, id)] as const), inRpm(open.value))}
          before={{ reading: kinds.find((id) => !(id in all)) ?? "", low: typed(all[open.value]?.low), high: typed(all[open.value]?.high) }}
        />
      )}
      {settings && open.value === null && <div class="row"><button class="btn" disabled={!kinds.length} onClick={() => { open.value = ""; }}>Add a limit</button>{undo}</div>}
    </section>
  );
}

interface RowsProps {
  readonly store: Store;
  readonly picture: PartProps["picture"];
  readonly limits: Limits;
  readonly onChange: ((id: string) => void) | null;
  readonly onRemove: (id: string) => void;
}

function Rows({ store, picture, limits, onChange, onRemove }: RowsProps): JSX.Element {
  const ids = Object.keys(limits);
  if (!ids.length) return <p class="second">None set.</p>;
  const unit = (id: string): string => store.quantity(keyOf(id))?.unit ?? "";
  const end = (value: number | null, id: string): string => (value === null ? DASH : limitWords(value, unit(id)));
  return (
    <table>
      <thead><tr><th scope="col">reading</th><th scope="col" class="e">lowest</th><th scope="col" class="e">highest</th>{onChange && <th scope="col"><span class="sr">change</span></th>}</tr></thead>
      <tbody>
        {ids.map((id) => (
          <tr key={id}>
            <th scope="row">{named(store, id)}{outside(id, picture, unit(id)) && <small class="odd">now {outside(id, picture, unit(id)).split(" ")[0]} it</small>}</th>
            <td class="e">{end(limits[id]![0], id)}</td>
            <td class="e">{end(limits[id]![1], id)}</td>
            {onChange && (
              <td class="e">
                <button class="as-table" aria-label={`Change the limit of ${named(store, id)}`} onClick={() => onChange(id)}>change</button>
                <button class="as-table" aria-label={`Remove the limit of ${named(store, id)}`} onClick={() => onRemove(id)}>remove</button>
              </td>
            )}
          </tr>
        ))}
      </tbody>
    </table>
  );
}

/** Limits are kept in the unit of the catalogue, speeds in r/min. */
function inRpm(id: string): string {
  return /_rpm$/.test(keyOf(id)) ? "r/min" : "";
}

function fields(id: string, kinds: readonly (readonly [string, string])[], unit: string): Parameters<typeof Form>[0]["fields"] {
  const reading = id ? [] : [{ key: "reading", label: "Reading", choices: kinds, unit: "speeds in r/min" }];
  return [...reading, { key: "low", label: "Lowest", number: true, unit, hint: "none" }, { key: "high", label: "Highest", number: true, unit, hint: "none" }];
}

function named(store: Store, id: string): string {
  const place = placeOf(id);
  return capital(`${store.quantity(keyOf(id))?.label ?? plain(keyOf(id))}${place && `, ${plain(place)}`}`);
}
