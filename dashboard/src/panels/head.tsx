/** The head: which rig, which motor, how old the picture is, whether it is recorded. In words, always in the same place. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { age } from "../core/format";
import type { Picture, Rig } from "../core/picture";
import type { Store } from "../core/store";
import { motorWords, recordingWords } from "../core/words";
import { CautionMark, HouseMark, OpensList } from "../draw/marks";

interface Props {
  readonly store: Store;
  readonly onRig: (name: string) => void;
}

export function Head({ store, onRig }: Props): JSX.Element {
  const picture = store.far.value;
  return (
    <header class="head">
      <div class="who">
        <HouseMark />
        {picture?.rig ? <RigChoice picture={picture} onRig={onRig} /> : <b>no board</b>}
        {picture?.demo && <span class="tag">demo</span>}
        {picture && <Worst rigs={picture.rigs} shown={picture.rig} onRig={onRig} />}
        <span class="motor">{picture ? motorWords(picture.motor) : ""}</span>
      </div>
      <nav class="nav" aria-label="Screens"><a href="#main" aria-current="page">Watch</a></nav>
      <div class="wire">
        <Age store={store} />
        {picture && <RecordingState picture={picture} linked={store.linked.value} />}
      </div>
    </header>
  );
}

function RigChoice({ picture, onRig }: { picture: Picture; onRig: (name: string) => void }): JSX.Element {
  const open = useSignal(false);
  const box = useRef<HTMLDivElement>(null);
  useEffect(() => {
    const outside = (event: Event): void => {
      if (!box.current?.contains(event.target as Node)) open.value = false;
    };
    document.addEventListener("pointerdown", outside);
    return () => document.removeEventListener("pointerdown", outside);
  }, []);
  if (picture.rigs.length < 2) return <b>{picture.rig}</b>;
  const close = (event: KeyboardEvent): void => {
    if (event.key !== "Escape") return;
    open.value = false;
    box.current?.querySelector("button")?.focus();
  };
  return (
    <div class="rigs" ref={box} onKeyDown={close}>
      <button aria-expanded={open.value} aria-label={`${picture.rig}, one of ${picture.rigs.length} rigs`} onClick={() => (open.value = !open.value)}>
        <b>{picture.rig}</b> <OpensList />
      </button>
      {open.value && (
        <ul class="list">
          {picture.rigs.map((rig) => (
            <li key={rig.name}>
              <button aria-current={rig.name === picture.rig} onClick={() => { open.value = false; onRig(rig.name); }}>
                <b>{rig.name}</b>
                <span>{rigWords(rig)}{rig.name === picture.rig ? "; shown now" : ""}</span>
                {rig.rank > 0 && <span class="tag caution"><CautionMark />{rig.tag}</span>}
              </button>
            </li>
          ))}
        </ul>
      )}
    </div>
  );
}

function rigWords({ motor, state, connection }: Rig): string {
  const how = connection === "live" ? state : connection.replaceAll("_", " ");
  return [motor, how].filter(Boolean).join(", ");
}

/** The worst of the other rigs stands beside the name. */
function Worst({ rigs, shown, onRig }: { rigs: readonly Rig[]; shown: string; onRig: (name: string) => void }): JSX.Element | null {
  const worst = rigs.find((rig) => rig.name !== shown);
  if (!worst) return null;
  const caution = worst.rank > 0;
  const words = caution ? worst.tag : worst.state || worst.connection.replaceAll("_", " ");
  return (
    <button class={`tag${caution ? " caution" : ""}`} title={words} onClick={() => onRig(worst.name)}>
      {caution && <CautionMark />}
      <span>{worst.name}<span class="words">, {words}</span></span>
    </button>
  );
}

function Age({ store }: { store: Store }): JSX.Element {
  const held = store.held.value;
  if (held) return <span>held <b>{age((store.now_ms.value - held.at_ms) / 1000)}</b> ago</span>;
  if (!store.linked.value) return <span><b>no service</b></span>;
  const seconds = store.age_s.value;
  return seconds === null ? <span>no samples yet</span> : <span><span class="opt">picture </span><b class="ms">{age(seconds)}</b> old</span>;
}

function RecordingState({ picture, linked }: { picture: Picture; linked: boolean }): JSX.Element {
  if (!linked) return <span class="recording">recording not known</span>;
  const [words, strong] = recordingWords(picture.recording, picture.now_utc_s);
  return <span class="recording">{words} {strong && <b>{strong}</b>}</span>;
}
