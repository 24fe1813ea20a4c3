/** Teaching on a demo rig: a person plugs wires wrongly on the page, turns the shaft or switches on, and sees what the model does. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useId, useRef } from "preact/hooks";
import { capital, number, withUnit } from "../core/format";
import { numberFrom } from "../core/settings";
import { type Choice, type Taught, driveWords, isSwitch, orderWords, sorted, unitOf } from "../core/teaching";
import { playStories, taught, teach } from "../feed/teaching";

/** Numbers of which only these make sense. */
const ONLY: Readonly<Record<string, readonly number[]>> = { hall_spacing_deg: [120, 60], controller_spacing_deg: [120, 60], direction: [1, -1] };
const PLACES: Readonly<Record<string, string>> = { hall_order: "ABC", phase_order: "UVW", lead_order: "UVW" };

/** The drive while a story plays: nothing that a person chose holds then. */
const PLAYED = "";

const AGAIN_MS = 2000;

export function Teach({ rig }: { rig: string }): JSX.Element | null {
  const now = useSignal<Taught | null>(null);
  const trouble = useSignal("");
  const changes = useRef(0); // an answer to a question that is older than a change of ours is old
  useEffect(() => { // a board that is still starting answers later, and others change it too
    let timer = 0;
    let failed = false;
    const look = async (): Promise<void> => {
      const asked = changes.current;
      try {
        const found = document.hidden ? null : await taught(rig);
        if (found && asked === changes.current && JSON.stringify(found) !== JSON.stringify(now.value)) now.value = found;
        if (failed) trouble.value = "";
        failed = false;
      } catch (error) {
        trouble.value = (error as Error).message;
        failed = true;
      }
      if (timer >= 0) timer = window.setTimeout(() => void look(), AGAIN_MS);
    };
    void look();
    return () => { clearTimeout(timer); timer = -1; };
  }, [rig]);
  const take = (doing: Promise<Taught>): void => {
    trouble.value = "";
    changes.current += 1;
    doing.then((found) => { changes.current += 1; now.value = found; }, (error: Error) => { trouble.value = error.message; });
  };
  const set = (choice: Choice, value: string | number): void => take(teach(rig, { [choice.key]: value }));
  const held = now.value;
  const { first, more } = sorted(held?.choices ?? []);
  const setting = (choice: Choice): JSX.Element => {
    const value = choice.key === "drive" && !held?.teaching ? PLAYED : (held?.settings[choice.key] ?? "");
    return <Setting key={choice.key} choice={choice} value={value} onSet={(wanted) => set(choice, wanted)} />;
  };
  return (
    <section class="sheet teach" aria-labelledby="teach">
      <h2 id="teach"><span>Plug it wrongly on purpose</span> <span class="tag">demo</span> <small>the model's equations answer; nothing real moves</small></h2>
      {held && (
        <>
          {first.map(setting)}
          <details>
            <summary>Faults and figures: {more.length} more</summary>
            {more.map(setting)}
          </details>
          <div class="row">
            <button class="btn" disabled={!held.teaching} onClick={() => take(playStories(rig))}>All right again, and play the stories</button>
            <span class="second">{held.teaching ? "The stories stand still." : "The stories are playing; the first change stops them."}</span>
          </div>
        </>
      )}
      {trouble.value && <p class="wrong" role="alert">{trouble.value}</p>}
    </section>
  );
}

interface One {
  readonly choice: Choice;
  readonly value: string | number;
  readonly onSet: (value: string | number) => void;
}

function Setting({ choice, value, onSet }: One): JSX.Element {
  const id = useId();
  return (
    <div class="entry">
      <label for={id}>{choice.key === "direction" ? "Direction that the drive is set to" : capital(choice.says)}</label>
      <Entry id={id} choice={choice} value={value} onSet={onSet} />
      <p id={`${id}-range`} class="second note">{noteOf(choice, value)}</p>
    </div>
  );
}

function Entry({ id, choice, value, onSet }: One & { id: string }): JSX.Element {
  const only = ONLY[choice.key];
  if (only) {
    const unit = unitOf(choice);
    return <select id={id} value={String(value)} onInput={(event) => onSet(Number(event.currentTarget.value))}>{only.map((each) => <option key={each} value={String(each)}>{choice.key === "direction" ? (each > 0 ? "forward" : "reverse") : withUnit(number(each), unit)}</option>)}</select>;
  }
  if (choice.values) {
    return (
      <select id={id} value={String(value)} onInput={(event) => onSet(event.currentTarget.value)}>
        {choice.key === "drive" && value === PLAYED && <option value={PLAYED} disabled>the story that plays</option>}
        {choice.values.map((each) => <option key={each.value} value={each.value}>{optionWords(choice.key, each.value)}</option>)}
      </select>
    );
  }
  if (isSwitch(choice)) return <input id={id} type="checkbox" checked={Number(value) > 0} onChange={(event) => onSet(Number(event.currentTarget.checked))} />;
  return (
    <input
      id={id} inputMode="decimal" value={String(value)} autocomplete="off" aria-describedby={`${id}-range`}
      onChange={(event) => { const typed = numberFrom(event.currentTarget.value); if (typeof typed === "number") onSet(typed); }}
    />
  );
}

function optionWords(key: string, value: string): string {
  if (key === "drive") return driveWords(value);
  return PLACES[key] ? [...value].join(" ") : value.replaceAll("_", " ");
}

/** What the chosen one means, or between which numbers it lies. */
function noteOf(choice: Choice, value: string | number): string {
  const places = PLACES[choice.key];
  const words = places ? orderWords(String(value), places) : "";
  if (choice.values) return words || (choice.values.find((each) => each.value === String(value))?.says ?? "");
  if (ONLY[choice.key] || isSwitch(choice)) return "";
  const end = (at: number | null): string => (at === null ? "" : number(at, (String(at).split(".")[1] ?? "").length));
  return `${end(choice.low)} to ${withUnit(end(choice.high), unitOf(choice))}`;
}
