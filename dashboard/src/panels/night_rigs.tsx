/** Several rigs: how each is, the worst first, so that one look says which night to read. */
import type { JSX } from "preact";
import { NO_ALARMS, tagKind } from "../core/alarms";
import { rigWords } from "../core/words";
import { CautionMark } from "../draw/marks";
import type { NightModel } from "./night_model";

export function NightRigs({ model, onRig }: { model: NightModel; onRig: (rig: string) => void }): JSX.Element | null {
  const shown = model.rig.value;
  const alarms = model.store.calm.value?.alarms ?? NO_ALARMS;
  const rigs = (model.store.calm.value?.rigs ?? []).filter(({ playing }) => !playing);
  if (rigs.length < 2) return null;
  return (
    <section class="sheet nightrigs" aria-labelledby="nightrigs">
      <h2 id="nightrigs">Rigs <small>the worst first</small></h2>
      <ul>
        {rigs.map((rig) => (
          <li key={rig.name}>
            <span><b>{rig.name}</b> <span class="second">{rigWords(rig)}</span></span>
            {rig.rank > 0 && <span class={`tag ${tagKind(rig, alarms)}`}><CautionMark />{rig.tag}</span>}
            {rig.name === shown ? <span class="second">shown here</span> : <button class="btn" onClick={() => onRig(rig.name)}>Show {rig.name}</button>}
          </li>
        ))}
      </ul>
    </section>
  );
}
