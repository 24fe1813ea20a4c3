/** What a person says for a calibration: what the meter reads and how sure, or which load; and the button that measures. */
import { useSignal } from "@preact/signals";
import type { ComponentChildren, JSX } from "preact";
import { useId } from "preact/hooks";
import type { CalibratedChannel, Calibration, What, Wish } from "../core/calibration";
import { numberFrom } from "../core/settings";

interface Props {
  readonly what: What;
  readonly unit: string;
  readonly volts: readonly CalibratedChannel[];
  readonly loads: Calibration["loads"];
  readonly wish: Wish;
  readonly fit: boolean; // what is measured now is fit for it
  readonly onWish: (wish: Wish) => void; // what the live reading depends on
  readonly onCompare: (more: Partial<Wish>) => void;
  readonly leave: JSX.Element;
}

const BUTTONS: Readonly<Record<What, string>> = { zero: "Take this as zero", gain: "Compare with the meter", angle: "Take this as a resistor's angle" };

export function ReferenceForm({ what, unit, volts, loads, wish, fit, onWish, onCompare, leave }: Props): JSX.Element {
  const value = useSignal("");
  const uncertainty = useSignal("");
  const limit = useSignal("limit");
  const words = useSignal("");
  const submit = (event: Event): void => {
    event.preventDefault();
    const meter = what === "gain" && { reference: numberFrom(value.value), uncertainty: numberFrom(uncertainty.value), is_limit: limit.value === "limit" };
    onCompare({ ...meter, words: words.value.trim() });
  };
  const text = (label: string, signal: typeof value, hint: string, decimal = false): JSX.Element => (
    <Field label={label}>{(id) => <input id={id} value={signal.value} placeholder={hint} inputMode={decimal ? "decimal" : undefined} autocomplete="off" spellcheck={false} maxLength={120} onInput={(event) => { signal.value = event.currentTarget.value; }} />}</Field>
  );
  return (
    <form class="settings" noValidate onSubmit={submit}>
      {what === "gain" && (
        <>
          {text(`The meter reads, ${unit}`, value, "at the same time", true)}
          {text(`That may be off by ±, ${unit}`, uncertainty, "from its data sheet", true)}
          <Field label="That is">{(id) => (
            <select id={id} value={limit.value} onInput={(event) => { limit.value = event.currentTarget.value; }}>
              <option value="limit">a limit that it does not pass (data sheet)</option>
              <option value="interval">a 95 % interval (certificate)</option>
            </select>
          )}</Field>
          {text("Which meter", words, "its name, and when it was calibrated")}
        </>
      )}
      {what === "angle" && (
        <>
          <Field label="Against the voltage">{(id) => (
            <select id={id} value={String(wish.against)} onInput={(event) => onWish({ ...wish, against: Number(event.currentTarget.value) })}>
              {volts.map(({ channel, name, place }) => <option key={channel} value={String(channel)}>{name || place}</option>)}
            </select>
          )}</Field>
          <Field label="The load is">{(id) => (
            <select id={id} value={wish.load ?? ""} onInput={(event) => onWish({ ...wish, load: event.currentTarget.value })}>
              {loads.map((load) => <option key={load.key} value={load.key}>{load.words}</option>)}
            </select>
          )}</Field>
          {text("For the record", words, "which one it is")}
        </>
      )}
      <div class="row"><button class="btn first" disabled={what === "gain" ? !value.value.trim() : !fit}>{BUTTONS[what]}</button>{leave}</div>
    </form>
  );
}

function Field({ label, children }: { readonly label: string; readonly children: (id: string) => ComponentChildren }): JSX.Element {
  const id = useId();
  return <div class="entry"><label for={id}>{label}</label>{children(id)}</div>;
}
