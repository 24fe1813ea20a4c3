/** What a step of the guided check asks a person for: names, what a meter reads, which way to mend it, what a try did. */
import { type Signal, useSignal } from "@preact/signals";
import type { ComponentChildren, JSX } from "preact";
import { useEffect, useId } from "preact/hooks";
import { numberFrom } from "../core/settings";
import { type Answers, type Check, type Names, fromPlate, mendWords } from "../core/wiring";
import type { Told } from "../feed/wiring";
import { MendDrawing } from "./wiring_plugs";

interface Props {
  readonly check: Check;
  readonly act: (told: Told) => void;
}

const SHOWED = [
  ["well", "It runs well"], ["reverse", "It runs well, the other way"], ["weak", "It runs weakly"], ["stands", "It stands"], ["locks", "It stands, and springs back when pushed"],
] as const;
/** Of the form that a step shows: what is pressed at the foot sends what was typed along. */
export const STEP_FORM = "step-form";
export const SENDS: Readonly<Partial<Record<Check["form"], string>>> = { names: "These are the wires", supply: "That is what it reads" };
const COLOURS = ["red", "black", "blue", "green", "yellow", "white", "brown", "orange", "grey", "violet"];

export function CheckForm({ check, act }: Props): JSX.Element | null {
  if (check.form === "names") return <NamesForm check={check} act={act} />;
  if (check.form === "supply") return <SupplyForm check={check} act={act} />;
  if (check.form === "try") return <TryForm check={check} act={act} />;
  if (check.form === "move") return <MoveForm check={check} act={act} />;
  if (check.form === "starts") return <p class="second">Started from: {check.began.join(", ") || "none yet"}.{check.refused.length > 0 && ` Did not start from: ${check.refused.join(", ")}.`}</p>;
  return null;
}

function NamesForm({ check, act }: Props): JSX.Element {
  const wires = useSignal([...check.names.halls, ...check.names.phases]);
  const pairs = useSignal(text(check.answers.pole_pairs));
  const rated = useSignal(text(check.answers.rated_v));
  const amps = useSignal(text(check.answers.rated_a));
  const spacing = useSignal(check.answers.spacing_deg ?? 120);
  const { pole_pairs, rated_a, spacing_deg } = check.answers;
  useEffect(() => { // the plate may come later than the check was begun, with the board
    pairs.value ||= text(pole_pairs);
    amps.value ||= text(rated_a);
    spacing.value = spacing_deg ?? spacing.value;
  }, [pole_pairs, rated_a, spacing_deg]);
  const filled = fromPlate(check.plate, { pole_pairs: value(pairs), rated_a: value(amps), spacing_deg: spacing.value });
  const submit = (event: Event): void => {
    event.preventDefault();
    const names: Names = { halls: wires.value.slice(0, 3), phases: wires.value.slice(3) };
    const answers = { ...check.answers, pole_pairs: value(pairs), rated_v: value(rated), rated_a: value(amps), spacing_deg: spacing.value };
    act({ act: actOf(event), answers: { ...answers, ...names } });
  };
  return (
    <form id={STEP_FORM} class="settings check-form" noValidate onSubmit={submit}>
      <datalist id="colours">{COLOURS.map((colour) => <option key={colour} value={colour} />)}</datalist>
      <div class="six">
        {[..."ABCUVW"].map((place, k) => (
          <Field key={place} label={k < 3 ? `Hall ${place}` : `Lead ${place}`}>
            {(id) => <input id={id} list="colours" value={wires.value[k]} maxLength={40} autocomplete="off" spellcheck={false} placeholder="its colour" onInput={(event) => { wires.value = wires.value.map((old, at) => (at === k ? event.currentTarget.value : old)); }} />}
          </Field>
        ))}
      </div>
      <div class="six">
        <Decimal label="Pole pairs" signal={pairs} hint="not known" />
        <Decimal label="Rated current, A" signal={amps} hint="not known" />
        <Field label="Sensors apart">
          {(id) => <select id={id} value={spacing.value} onInput={(event) => { spacing.value = Number(event.currentTarget.value); }}><option value={120}>120°</option><option value={60}>60°</option></select>}
        </Field>
        <Decimal label="Sensor supply, V" signal={rated} hint="5" />
      </div>
      {filled && <p class="second">{filled}</p>}
      <div class="row">
        <button class="btn broad" type="button" onClick={() => { wires.value = wires.value.map((old, k) => old || `${k < 3 ? "Hall" : "lead"} ${"ABCUVW"[k]}`); }}>Call them by their places</button>
      </div>
    </form>
  );
}

function SupplyForm({ check, act }: Props): JSX.Element {
  const volts = useSignal(text(check.answers.supply_v));
  const amps = useSignal(check.answers.supply_a === null ? "" : text(check.answers.supply_a * 1000));
  const submit = (event: Event): void => {
    event.preventDefault();
    const milliamps = value(amps);
    const answers: Answers = { ...check.answers, supply_v: value(volts), supply_a: milliamps === null ? null : milliamps / 1000 };
    act({ act: actOf(event), answers: { ...answers, ...check.names } });
  };
  return (
    <form id={STEP_FORM} class="settings check-form" noValidate onSubmit={submit}>
      <div class="six">
        <Decimal label="Voltage, V" signal={volts} hint="5.0" />
        <Decimal label="Current, mA" signal={amps} hint="12" />
      </div>
    </form>
  );
}

function MoveForm({ check, act }: Props): JSX.Element {
  if (check.moved) return <p>Moved. Now turn the shaft forward by hand, two electrical turns or more.</p>;
  return (
    <div class="ways" role="radiogroup" aria-label="Ways to mend it">
      {check.mends.map((mend, k) => (
        <label key={mend.acts.join()} class={`way${k === check.mend ? " chosen" : ""}`}>
          <span class="way-words"><input type="radio" name="way" checked={k === check.mend} onInput={() => act({ act: "mend", choice: k })} /><span>{mendWords(mend)}</span></span>
          {k === check.mend && <MendDrawing mend={mend} />}
        </label>
      ))}
    </div>
  );
}

function TryForm({ check, act }: Props): JSX.Element {
  const showed = { well: "runs well", reverse: "runs well, the other way", weak: "runs weakly", stands: "stands", locks: "springs back", "": "this one now" } as Record<string, string>;
  return (
    <>
      <table class="tries">
        <caption class="sr">The orders of the leads that were tried</caption>
        <thead><tr><th scope="col">leads</th><th scope="col">it</th></tr></thead>
        <tbody>{check.tries.map((each) => <tr key={each.order}><th scope="row">{each.order}<span class="second"> {each.words}</span></th><td>{showed[each.showed]}</td></tr>)}</tbody>
      </table>
      <div class="row">{SHOWED.map(([key, words]) => <button key={key} class="btn first broad" onClick={() => act({ act: "tried", showed: key })}>{words}</button>)}</div>
    </>
  );
}

function Decimal({ label, signal, hint }: { label: string; signal: Signal<string>; hint: string }): JSX.Element {
  return <Field label={label}>{(id) => <input id={id} value={signal.value} placeholder={hint} inputMode="decimal" autocomplete="off" onInput={(event) => { signal.value = event.currentTarget.value; }} />}</Field>;
}

function Field({ label, children }: { label: string; children: (id: string) => ComponentChildren }): JSX.Element {
  const id = useId();
  return <div class="small-entry"><label for={id}>{label}</label>{children(id)}</div>;
}

/** What the button that sent a form stands for. */
function actOf(event: Event): string {
  const button = (event as SubmitEvent).submitter;
  return (button instanceof HTMLButtonElement && button.value) || "answer";
}

function text(known: number | null): string {
  return known === null ? "" : String(known);
}

/** What was typed as a number; null where nothing was, or no number: the service then has none. */
function value(typed: Signal<string>): number | null {
  const found = numberFrom(typed.value);
  return typeof found === "number" ? found : null;
}
