/** The far line of the Wiring screen: what would happen, or how far the step of the check is; then speed, back-EMF, current. */
import type { JSX } from "preact";
import { DASH, number } from "../core/format";
import type { Store } from "../core/store";
import type { Check, Wiring } from "../core/wiring";
import { FarReading } from "./far";

const READINGS = ["speed_rpm", "current_mean_a"] as const;

export function WiringFar({ store, wiring }: { store: Store; wiring: Wiring | null }): JSX.Element {
  const picture = store.calm.value;
  const check = wiring?.check && !wiring.check.finished ? wiring.check : null;
  const far = wiring?.far;
  const [speed, current] = READINGS;
  return (
    <section class={`far wiring${check ? " checking" : ""}${check?.powered ? " powered" : ""}`} aria-label="Now">
      <div class="state">
        <p class={`x${store.faint.value ? " aged" : ""}`}>{far?.word ?? (wiring ? "Not turned yet" : "Looking")}</p>
        <p class="y">{far?.below ?? (wiring ? "turn the shaft by hand, or begin the guided check" : "at the wiring")}</p>
      </div>
      <p class="sr" role="status">{far?.word ?? ""}</p>
      {check && <Step check={check} />}
      {picture && <FarReading id={speed} picture={picture} store={store} />}
      <div>
        <p class="x">{volts(wiring)}<span class="unit voltage">V</span></p>
        <p class="y">back-EMF between leads, RMS, while it was turned</p>
      </div>
      {picture && <FarReading id={current} picture={picture} store={store} />}
    </section>
  );
}

/** On a phone, at arm's length: how far this step is. */
function Step({ check }: { check: Check }): JSX.Element {
  return (
    <div class="state step">
      <p class="x">{check.agreed && check.of > 0 ? `${check.done} of ${check.of}` : check.title}</p>
      <p class="y">{check.agreed ? check.says || check.missing : "first the cautions"}</p>
    </div>
  );
}

function volts(wiring: Wiring | null): string {
  const rms = wiring?.timing?.rms_v ?? null;
  return rms === null ? DASH : number(rms, rms < 10 ? 2 : 1);
}
