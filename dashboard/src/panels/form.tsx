/** A form of a few settings. What it still lacks is said in the words of its fields; what the service refuses stands at its field, in the service's words. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useId, useRef } from "preact/hooks";
import { capital } from "../core/format";
import { type Field, type Given, type Lacks, isAbout } from "../core/settings";
import { Refusal } from "../feed/api";

interface Props {
  readonly label: string;
  readonly fields: readonly Field[];
  readonly before: Given;
  readonly save: string; // what the button says
  readonly lacks?: Lacks | undefined;
  readonly onSave: (given: Given) => Promise<unknown>;
  readonly onLeave: () => void;
}

export function Form({ label, fields, before, save, lacks, onSave, onLeave }: Props): JSX.Element {
  const given = useSignal<Given>(before);
  const busy = useSignal(false);
  const refused = useSignal<{ readonly key: string; readonly sentence: string } | null>(null);
  const form = useRef<HTMLFormElement>(null);
  useEffect(() => form.current?.querySelector<HTMLElement>("input, select")?.focus(), []);
  const submit = (event: Event): void => {
    event.preventDefault();
    const refuse = (key: string, sentence: string): void => {
      refused.value = { key, sentence };
      setTimeout(() => form.current?.querySelector<HTMLElement>("[aria-invalid]")?.focus());
    };
    const lack = lacks?.(given.value);
    if (lack) return refuse(...lack);
    busy.value = true;
    refused.value = null;
    const its = fields.filter(({ asked }) => !asked || asked(given.value, before)).map(({ key }) => [key, given.value[key] ?? ""] as const);
    onSave(Object.fromEntries(its)).then(onLeave, (error: Error) => refuse(error instanceof Refusal ? error.key : "", sentenceOf(error)))
      .finally(() => { busy.value = false; });
  };
  const wrong = refused.value;
  const asked = fields.filter((field) => !field.asked || field.asked(given.value, before));
  const placed = wrong !== null && asked.some(({ key }) => isAbout(key, wrong.key));
  return (
    <form class="settings" ref={form} aria-label={label} noValidate onSubmit={submit} onKeyDown={(event) => { if (event.key === "Escape") onLeave(); }}>
      {asked.map((field) => (
        <Entry
          key={field.key} field={field} value={given.value[field.key] ?? ""}
          refusal={wrong && isAbout(field.key, wrong.key) ? wrong.sentence : ""}
          onInput={(text) => { given.value = { ...given.value, [field.key]: text }; }}
        />
      ))}
      {wrong && !placed && <p class="wrong" role="alert">{wrong.sentence}</p>}
      <div class="row">
        <button class="btn first" disabled={busy.value}>{save}</button>
        <button class="btn" type="button" onClick={onLeave}>Leave as it was</button>
      </div>
    </form>
  );
}

/** At its field a refusal need not name it. */
function sentenceOf(error: Error): string {
  const named = error instanceof Refusal && error.key ? `${error.key}: ` : "";
  return named && error.message.startsWith(named) ? capital(error.message.slice(named.length)) : error.message;
}

interface EntryProps {
  readonly field: Field;
  readonly value: string;
  readonly refusal: string;
  readonly onInput: (text: string) => void;
}

function Entry({ field, value, refusal, onInput }: EntryProps): JSX.Element {
  const id = useId();
  const told = { id, name: field.key, "aria-invalid": refusal ? true : undefined, "aria-describedby": refusal ? `${id}-wrong` : undefined };
  return (
    <div class="entry">
      <label for={id}>{field.label}{field.unit && <span class="second">, {field.unit}</span>}</label>
      {field.choices ? (
        <select {...told} value={value} onInput={(event) => onInput(event.currentTarget.value)}>
          {field.choices.map(([choice, words]) => <option key={choice} value={choice} selected={choice === value}>{words}</option>)}
        </select>
      ) : (
        <input
          {...told} value={value} inputMode={field.number ? "decimal" : undefined} placeholder={field.hint} autocomplete="off" spellcheck={false}
          onInput={(event) => onInput(event.currentTarget.value)}
        />
      )}
      {refusal && <p class="wrong" id={`${id}-wrong`} role="alert">{refusal}</p>}
    </div>
  );
}
