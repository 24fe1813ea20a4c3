/** Nobody is told of an alarm for a while: how long, and why. It comes back by itself. */
import type { JSX } from "preact";
import { type Field, type Given } from "../core/settings";
import { shelve } from "../feed/alarms";
import { Form } from "./form";

const FIELDS: readonly Field[] = [
  { key: "for_s", label: "For", choices: [["900", "15 minutes"], ["3600", "an hour"], ["14400", "4 hours"], ["43200", "12 hours"]] },
  { key: "reason", label: "Why" },
];

interface Props {
  readonly rig: string;
  readonly name: string;
  readonly words: string; // the alarm as it is called in the table
  readonly onDone: () => void;
  readonly onLeave: () => void;
}

export function AlarmShelf({ rig, name, words, onDone, onLeave }: Props): JSX.Element {
  const save = (given: Given): Promise<unknown> => shelve(rig, name, Number(given["for_s"]), (given["reason"] ?? "").trim()).then(onDone);
  return <><p class="named">Shelve: <b>{words}</b></p><Form key={name} label={`Shelve the alarm: ${words}`} save="Shelve it" fields={FIELDS} before={{ for_s: "900", reason: "" }} onSave={save} onLeave={onLeave} /></>;
}
