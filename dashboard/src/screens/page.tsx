/** What is the same on every screen: head, alarm line, where it is wanted the far line, foot. The screen stands between. */
import { useComputed } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useLayoutEffect, useRef } from "preact/hooks";
import type { Playing } from "../core/picture";
import type { Store } from "../core/store";
import { notEncrypted } from "../core/visitor";
import { stateWord } from "../core/words";
import { Add } from "../panels/add";
import { AlarmLine } from "../panels/alarm_line";
import { Consent } from "../panels/consent";
import { Far } from "../panels/far";
import { Head } from "../panels/head";
import { PlayBar } from "../panels/play_bar";
import { type KeyAct, Keys } from "../panels/keys";
import { Said } from "../panels/said";
import { ALL_SCREENS, SCREENS } from "./index";
import { go, leaveAdding, route, screenOf } from "./route";
import type { Screen, ScreenProps } from "./screen";

interface Props extends ScreenProps {
  readonly keys: readonly KeyAct[];
}

export function Page({ store, keys, onRig, onRetry }: Props): JSX.Element {
  const screen = screenOf(ALL_SCREENS, route.value);
  const adding = route.value.adding && store.calm.value?.rig ? store.calm.value : null;
  const View = screen.view;
  useTop(screen.key);
  const show = (rig: string): void => { leaveAdding(); onRig(rig); };
  const stopped = ({ run, rig }: Playing): void => {
    onRig(store.afterPlaying(rig));
    go(`runs/${run}`);
  };
  return (
    <>
      <a class="skip" href="#main" onClick={toMain}>Skip to the drawing</a>
      <Head store={store} screens={SCREENS} current={screen.key} onRig={show} />
      <AlarmLine store={store} />
      <Consent store={store} />
      {(screen.far || adding) && <Far store={store} />}
      {store.calm.value?.playing && !adding && <PlayBar store={store} playing={store.calm.value.playing} onStopped={stopped} />}
      <main id="main" class={`screen ${screen.key}`} tabIndex={-1}>
        <Title store={store} screen={screen} />
        {adding ? <Add picture={adding} onRig={show} onLeave={leaveAdding} /> : <View key={screen.key} store={store} onRig={onRig} onRetry={onRetry} />}
      </main>
      <footer class="foot"><span>Slipring only watches; it does not protect.{notEncrypted.value && <b> This connection is not encrypted.</b>}</span><Keys acts={keys} /></footer>
      <p class="sr" role="status" aria-live="polite">{store.told.value.said}</p>
      <Said />
    </>
  );
}

/** Another screen begins at its top, for eyes and for the keyboard; what has the focus in it already keeps it. */
function useTop(key: string): void {
  const before = useRef(key);
  useLayoutEffect(() => {
    if (before.current === key) return;
    before.current = key;
    const main = document.getElementById("main");
    if (!main?.contains(document.activeElement)) main?.focus({ preventScroll: true });
    window.scrollTo(0, 0);
  }, [key]);
}

/** Not by the address: that names the screen. */
function toMain(event: Event): void {
  event.preventDefault();
  document.getElementById("main")?.focus();
}

/** Heading for those who cannot see the head, and the name of the window. */
function Title({ store, screen }: { store: Store; screen: Screen }): JSX.Element {
  const words = useComputed(() => {
    const picture = store.calm.value;
    return picture ? [picture.rig, stateWord(picture, store.linked.value).toLowerCase()].filter(Boolean).join(", ") : "";
  });
  const name = screen === SCREENS[0] ? "" : screen.name;
  const asked = store.asked.value.questions.length; // seen in the name of the window when another one lies above it
  useEffect(() => {
    document.title = `${asked ? `(${asked}) ` : ""}${[words.value, name].filter(Boolean).join(", ") || "Slipring"}${words.value || name ? ": Slipring" : ""}`;
  }, [words.value, name, asked]);
  return <h1 class="sr">{screen.name} {words.value}</h1>;
}
