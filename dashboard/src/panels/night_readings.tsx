/** Which readings of the night are drawn: the motor's main ones, those with a limit or an alarm, and what a person adds. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { DRAWN_MAX, USUAL, hasLine, labelOf, toggled } from "../core/night_readings";
import type { NightModel } from "./night_model";

export function NightReadings({ model }: { model: NightModel }): JSX.Element | null {
  const open = useSignal(false);
  const ids = model.ids.value;
  const there = (model.there.value ?? []).filter(hasLine);
  if (!there.length) return null;
  const set = (id: string, on: boolean): void => model.choose(toggled(model.choice.value, id, model.usual.value, on));
  const { added, dropped } = model.choice.value;
  return (
    <details class="sheet nightreadings" open={open.value} onToggle={(event) => { open.value = event.currentTarget.open; }}>
      <summary><b>Readings drawn</b> <span class="second">{ids.length} of {there.length}</span></summary>
      {open.value && (
        <>
          <fieldset>
            <legend class="sr">Readings drawn</legend>
            {there.map((id) => {
              const on = ids.includes(id);
              const quantity = model.quantity(id);
              return <label key={id}><input type="checkbox" checked={on} disabled={!on && ids.length >= DRAWN_MAX} onChange={(event) => set(id, event.currentTarget.checked)} /> <span>{labelOf(id, quantity)}{quantity?.unit && <span class="second"> {quantity.unit}</span>}</span></label>;
            })}
          </fieldset>
          <div class="row">
            <button class="btn" disabled={!added.length && !dropped.length} onClick={() => model.choose(USUAL)}>Draw the usual ones</button>
            <span class="second">Kept in this browser, for {model.rig.value}.{ids.length >= DRAWN_MAX && ` No more than ${DRAWN_MAX} are drawn.`}</span>
          </div>
        </>
      )}
    </details>
  );
}
