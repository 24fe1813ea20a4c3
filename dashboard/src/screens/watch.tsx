/** Watch: what the motor is doing now, and why. Drawings left, answers right; on a phone one column. */
import { useComputed } from "@preact/signals";
import type { JSX } from "preact";
import type { ConnectionState } from "../core/picture";
import type { Store } from "../core/store";
import { First } from "../panels/first";
import { PANELS } from "../panels/index";
import { Notice } from "../panels/notice";
import type { Panel } from "../panels/panel";
import type { Screen, ScreenProps } from "./screen";

function WatchView({ store, onRig, onRetry }: ScreenProps): JSX.Element {
  return (
    <>
      <Notice store={store} onRig={onRig} onRetry={onRetry} />
      <Body store={store} onRig={onRig} />
    </>
  );
}

const NOTHING_TO_DRAW: readonly ConnectionState[] = ["no_board", "connecting", "refused", "settings_refused", "no_rig"];

function Body({ store, onRig }: { store: Store; onRig: (name: string) => void }): JSX.Element | null {
  const state = useComputed(() => store.calm.value?.connection.state);
  const keys = useComputed(() => PANELS.filter((panel) => store.calm.value && panel.fits(store.calm.value)).map((panel) => panel.key).join());
  const rig = useComputed(() => store.calm.value?.rig ?? "");
  const described = useComputed(() => store.calm.value?.board != null);
  if (!state.value) return null;
  if (!rig.value) return store.linked.value ? <First rigs={[]} onRig={onRig} /> : null; // without a service nothing is found
  if (NOTHING_TO_DRAW.includes(state.value) || (state.value === "ended" && !described.value)) return null;
  const panels = PANELS.filter((panel) => keys.value.split(",").includes(panel.key));
  return (
    <div class="cols watch" key={rig.value}>
      {(["drawings", "answers"] as const).map((side) => (
        <div key={side} class={`stack ${side}`}>{panels.filter((panel) => panel.side === side).map((panel) => <Placed key={panel.key} panel={panel} store={store} />)}</div>
      ))}
    </div>
  );
}

function Placed({ panel, store }: { panel: Panel; store: Store }): JSX.Element {
  const View = panel.view;
  return <div class={`place ${panel.key}`}><View store={store} /></div>;
}

export const WATCH: Screen = { key: "watch", name: "Watch", far: true, view: WatchView };
