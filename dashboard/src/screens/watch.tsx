/** Watch: what the motor is doing now, and why. Drawings left, answers right; on a phone one column. */
import { useComputed, useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import type { ConnectionState } from "../core/picture";
import type { Store } from "../core/store";
import { stateWord } from "../core/words";
import { Add } from "../panels/add";
import { AlarmLine } from "../panels/alarm_line";
import { Far } from "../panels/far";
import { First } from "../panels/first";
import { Head } from "../panels/head";
import { PANELS } from "../panels/index";
import { type KeyAct, Keys } from "../panels/keys";
import { Notice } from "../panels/notice";
import type { Panel } from "../panels/panel";
import { Said } from "../panels/said";

interface Props {
  readonly store: Store;
  readonly keys: readonly KeyAct[];
  readonly onRig: (name: string) => void;
  readonly onRetry: () => void;
}

export function Watch({ store, keys, onRig, onRetry }: Props): JSX.Element {
  const [adding, leave] = useAdding();
  const show = (rig: string): void => { leave(); onRig(rig); };
  return (
    <>
      <a class="skip" href="#main">Skip to the drawing</a>
      <Head store={store} onRig={show} />
      <AlarmLine store={store} />
      <Far store={store} />
      <main id="main" tabIndex={-1}>
        <Title store={store} />
        {adding && store.calm.value?.rig ? <Add picture={store.calm.value} onRig={show} onLeave={leave} /> : (
          <>
            <Notice store={store} onRig={onRig} onRetry={onRetry} />
            <Body store={store} onRig={onRig} />
          </>
        )}
      </main>
      <footer class="foot"><span>Slipring only watches; it does not protect.</span><Keys acts={keys} /></footer>
      <p class="sr" role="status" aria-live="polite">{store.told.value.said}</p>
      <Said />
    </>
  );
}

/** Whether another board or motor is being added: a place in the browser's history, so that its Back leads out too. */
function useAdding(): readonly [boolean, () => void] {
  const here = (): boolean => location.hash === "#another";
  const adding = useSignal(here());
  useEffect(() => {
    const look = (): void => { adding.value = here(); };
    window.addEventListener("hashchange", look);
    return () => window.removeEventListener("hashchange", look);
  }, []);
  const leave = (): void => {
    if (here()) history.replaceState(null, "", location.pathname + location.search);
    adding.value = false;
  };
  return [adding.value, leave];
}

/** Heading for those who cannot see the head, and the name of the window. */
function Title({ store }: { store: Store }): JSX.Element {
  const words = useComputed(() => {
    const picture = store.calm.value;
    return picture ? [picture.rig, stateWord(picture, store.linked.value).toLowerCase()].filter(Boolean).join(", ") : "";
  });
  useEffect(() => {
    document.title = words.value ? `${words.value}: Slipring` : "Slipring";
  }, [words.value]);
  return <h1 class="sr">Watch {words.value}</h1>;
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
