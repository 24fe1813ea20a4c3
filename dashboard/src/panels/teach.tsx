/** Teaching on a demo rig: a person plugs wires wrongly on the page, turns the shaft or switches on, and sees what the model does. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useId } from "preact/hooks";
import { capital } from "../core/format";
import { numberFrom } from "../core/settings";
import { type Choice, type Taught, orderWords, sorted } from "../core/teaching";
import { playStories, taught, teach } from "../feed/teaching";

/** Numbers of which only these make sense. */
const ONLY: Readonly<Record<string, readonly number[]>> = { hall_spacing_deg: [120, 60], controller_spacing_deg: [120, 60], direction: [1, -1] };
const PLACES: Readonly<Record<string, string>> = { hall_order: "ABC", phase_order: "UVW", lead_order: "UVW" };

const AGAIN_MS = 2000;

interface Props {
  readonly rig: string;
  readonly onChange: () => void; // the wires are other ones now: what was turned before says nothing of them
}

export function Teach({ rig, onChange }: Props): JSX.Element | null {
  const now = useSignal<Taught | null>(null);
  const trouble = useSignal("");
  useEffect(() => { // a board that is still starting answers later
    let timer = 0;
    const look = (): void => {
      taught(rig).then(
        (found) => { now.value = found; trouble.value = ""; },
        (error: Error) => { trouble.value = error.message; timer = window.setTimeout(look, AGAIN_MS); },
      );
    };
    look();
    return () => clearTimeout(timer);
  }, [rig]);
  const take = (doing: Promise<Taught>, rewired: boolean): void => {
    trouble.value = "";
    doing.then((found) => { now.value = found; if (rewired) onChange(); }, (error: Error) => { trouble.value = error.message; });
  };
  const set = (choice: Choice, value: string | number): void => take(teach(rig, { [choice.key]: value }), choice.key !== "drive");
  const held = now.value;
  const { first, more } = sorted(held?.choices ?? []);
  return (
    <section class="sheet teach" aria-labelledby="teach">
      <h2 id="teach"><span>Plug it wrongly on purpose</span> <span class="tag">demo</span> <small>the model's equations answer; nothing real moves</small></h2>
      {held && (
        <>
          {first.map((choice) => <Setting key={choice.key} choice={choice} value={held.settings[choice.key] ?? ""} onSet={(value) => set(choice, value)} />)}
          <details>
            <summary>Faults and figures: {more.length} more</summary>
            {more.map((choice) => <Setting key={choice.key} choice={choice} value={held.settings[choice.key] ?? ""} onSet={(value) => set(choice, value)} />)}
          </details>
          <div class="row">
            <button class="btn" disabled={!held.teaching} onClick={() => take(playStories(rig), true)}>All right again, and play the stories</button>
            <span class="second">{held.teaching ? "The stories stand still." : "The stories are playing; the first change stops them."}</span>
          </div>
        </>
      )}
      {trouble.value && <p class="wrong" role="alert">{trouble.value}</p>}
    </section>
  );
}

function Setting({ choice, value, onSet }: { choice: Choice; value: string | number; onSet: (value: string | number) => void }): JSX.Element {
  const id = useId();
  const places = PLACES[choice.key];
  const words = places ? orderWords(String(value), places) : "";
  const only = ONLY[choice.key];
  const says = choice.values?.find((each) => each.value === String(value))?.says ?? "";
  return (
    <div class="entry">
      <label for={id}>{capital(choice.says)}</label>
      {only && <select id={id} value={String(value)} onInput={(event) => onSet(Number(event.currentTarget.value))}>{only.map((each) => <option key={each} value={String(each)}>{each}</option>)}</select>}
      {!only && (choice.values
        ? (
          <select id={id} value={String(value)} onInput={(event) => onSet(event.currentTarget.value)}>
            {choice.values.map((each) => <option key={each.value} value={each.value}>{places ? [...each.value].join(" ") : each.value.replaceAll("_", " ")}</option>)}
          </select>
        )
        : (
          <input
            id={id} inputMode="decimal" value={String(value)} autocomplete="off" aria-describedby={`${id}-range`}
            onChange={(event) => { const typed = numberFrom(event.currentTarget.value); if (typeof typed === "number") onSet(typed); }}
          />
        ))}
      <p id={`${id}-range`} class="second note">{words || says || (choice.values || only ? "" : `${choice.low} to ${choice.high}`)}</p>
    </div>
  );
}
