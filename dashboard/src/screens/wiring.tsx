/** Wiring: would it run as it is wired, which plugs to move, and the guided check. Answers first on a phone. */
import { useComputed } from "@preact/signals";
import type { JSX } from "preact";
import type { Store } from "../core/store";
import type { Mend, Wiring } from "../core/wiring";
import { ownRig } from "../core/words";
import { type Looked, useWiring } from "../feed/wiring";
import { GuidedCheck } from "../panels/check";
import { HallView } from "../panels/hall";
import { Notice, noticeNeeded } from "../panels/notice";
import { Teach } from "../panels/teach";
import { WiringAnswer } from "../panels/wiring_answer";
import { WiringFar } from "../panels/wiring_far";
import { WiringFit } from "../panels/wiring_fit";
import { WiringTiming } from "../panels/wiring_timing";
import type { Screen, ScreenProps } from "./screen";

function WiringView({ store, onRig, onRetry }: ScreenProps): JSX.Element {
  const rig = useComputed(() => store.calm.value?.rig ?? "");
  const looked = useWiring(rig.value);
  const wiring = looked.wiring.value;
  const picture = store.calm.value;
  const noticed = noticeNeeded(picture, store.linked.value); // a board that has not answered yet may have them
  if (picture && !rig.value) return <div class="cols one"><p class="sheet">No rig yet. <a href="#watch">Watch</a> finds a board or starts a demo motor.</p></div>;
  return (
    <>
      {noticed && <Notice store={store} onRig={onRig} onRetry={onRetry} />}
      {wiring && !wiring.halls ? !noticed && <None /> : <><WiringFar store={store} wiring={wiring} /><Body key={rig.value} store={store} rig={rig.value} looked={looked} /></>}
    </>
  );
}

/** Of a motor without them. */
function None(): JSX.Element {
  return (
    <div class="cols one">
      <p class="sheet">This board has no three Hall inputs, so there is no wiring to judge here. It is for brushless motors with Hall sensors on A, B and C; <a href="#connect">how to connect</a> shows where other sensors go.</p>
    </div>
  );
}

function Body({ store, rig, looked }: { store: Store; rig: string; looked: Looked }): JSX.Element | null {
  const wiring = looked.wiring.value;
  const picture = store.calm.value;
  if (!wiring || !picture) return null;
  const faint = store.faint.value;
  const own = ownRig(picture);
  const demo = !!own?.demo_motor && !picture.playing;
  const [first, ...rest] = wiring.verdicts;
  const checking = wiring.check !== null && !wiring.check.finished;
  return (
    <div class={`cols wiring${checking ? " checking" : ""}`}>
      <div class="stack drawings">
        {wiring.timing
          ? <WiringTiming timing={wiring.timing} faint={faint} />
          : <p class="sheet waits">Hall signals against the back-EMF are drawn here once the shaft was turned by hand, a whole electrical turn with voltage on the leads.</p>}
        <div class="two low">
          {picture.hall && <HallView store={store} {...(wiring.timing && { sectors: wiring.timing })} />}
          {wiring.fits.length > 0 && <WiringFit fits={wiring.fits} faint={faint} />}
        </div>
        {demo && <Teach rig={rig} />}
      </div>
      <div class="stack answers">
        {!checking && first && <WiringAnswer verdict={first} mends={mendsOf(wiring, first.key)} lead />}
        <GuidedCheck rig={rig} demo={demo} wiring={wiring} tell={looked.tell} playing={!!picture.playing} />
        {!checking && rest.map((verdict) => <WiringAnswer key={verdict.key} verdict={verdict} mends={mendsOf(wiring, verdict.key)} lead={false} />)}
        {!checking && wiring.edges > 0 && (
          <div class="row anew">
            <button class="btn" onClick={() => void looked.anew()}>I have moved wires: judge anew</button>
          </div>
        )}
      </div>
    </div>
  );
}

/** The drawing of the wires stands with the verdict on their order. */
function mendsOf({ order, mends }: Wiring, key: string): readonly Mend[] {
  return key === order ? mends : [];
}

export const WIRING: Screen = { key: "wiring", name: "Wiring", far: false, view: WiringView };
