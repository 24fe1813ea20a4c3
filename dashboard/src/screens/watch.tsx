/** Watch: what the motor is doing now, and why. Drawings left, answers right; on a phone one column. */
import { useComputed } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import type { Store } from "../core/store";
import { stateWord } from "../core/words";
import { AlarmLine } from "../panels/alarm_line";
import { Far } from "../panels/far";
import { First } from "../panels/first";
import { Head } from "../panels/head";
import { PANELS } from "../panels/index";
import { type KeyAct, Keys } from "../panels/keys";
import { Notice } from "../panels/notice";
import type { Panel } from "../panels/panel";

interface Props {
  readonly store: Store;
  readonly keys: readonly KeyAct[];
  readonly onRig: (name: string) => void;
  readonly onRetry: () => void;
}

export function Watch({ store, keys, onRig, onRetry }: Props): JSX.Element {
  return (
    <>
      <a class="skip" href="#main">Skip to the drawing</a>
      <Head store={store} onRig={onRig} />
      <AlarmLine store={store} />
      <Far store={store} />
      <main id="main" tabIndex={-1}>
        <Title store={store} />
        <Notice store={store} onRetry={onRetry} />
        <Body store={store} onRig={onRig} />
      </main>
      <footer class="foot"><span>Slipring only watches; it does not protect.</span><Keys acts={keys} /></footer>
      <p class="sr" role="status" aria-live="polite">{store.told.value.said}</p>
    </>
  );
}

/** Heading for those who cannot see the head, and the name of the window. */
function Title({ store }: { store: Store }): JSX.Element {
  const words = useComputed(() => {
    const picture = store.far.value;
    return picture ? [picture.rig, stateWord(picture, store.linked.value).toLowerCase()].filter(Boolean).join(", ") : "";
  });
  useEffect(() => {
    document.title = words.value ? `${words.value}: Slipring` : "Slipring";
  }, [words.value]);
  return <h1 class="sr">Watch {words.value}</h1>;
}

function Body({ store, onRig }: { store: Store; onRig: (name: string) => void }): JSX.Element | null {
  const state = useComputed(() => store.far.value?.connection.state);
  const keys = useComputed(() => PANELS.filter((panel) => store.far.value && panel.fits(store.far.value)).map((panel) => panel.key).join());
  const rig = useComputed(() => store.far.value?.rig ?? "");
  if (!state.value) return null;
  if (state.value === "no_board") return <First onRig={onRig} />;
  if (state.value === "connecting" || state.value === "refused") return null;
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
