/** The rig's name in the head opens this: the rigs, another board or motor, and the end of this one. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { tagKind } from "../core/alarms";
import type { Picture, Rig } from "../core/picture";
import type { Store } from "../core/store";
import { ownRig, rigWords } from "../core/words";
import { CautionMark, OpensList } from "../draw/marks";
import { removeRig, stopDemo } from "../feed/api";
import { stopPlay } from "../feed/runs";

interface Props {
  readonly store: Store;
  readonly picture: Picture;
  readonly onRig: (name: string) => void;
}

export function RigMenu({ store, picture, onRig }: Props): JSX.Element {
  const open = useSignal(false);
  const removing = useSignal(false);
  const trouble = useSignal("");
  const box = useRef<HTMLDivElement>(null);
  useEffect(() => {
    const outside = (event: Event): void => {
      if (!box.current?.contains(event.target as Node)) open.value = false;
    };
    document.addEventListener("pointerdown", outside);
    return () => document.removeEventListener("pointerdown", outside);
  }, []);
  const own = ownRig(picture);
  const toName = (): void => box.current?.querySelector("button")?.focus();
  const close = (event: KeyboardEvent): void => {
    if (event.key !== "Escape" || !open.value) return;
    open.value = false;
    toName();
  };
  const left = (event: FocusEvent): void => {
    if (event.relatedTarget && !box.current?.contains(event.relatedTarget as Node)) open.value = false;
  };
  const show = (name: string): void => { open.value = false; onRig(name); };
  const other = picture.rigs.find(({ name }) => name !== picture.rig)?.name ?? ""; // none: whatever the service shows
  const end = (ending: Promise<unknown>, next = other): void => {
    trouble.value = "";
    ending.then(() => { open.value = removing.value = false; onRig(next); }, (error: Error) => { trouble.value = error.message; });
  };
  return (
    <div class="rigs" ref={box} onKeyDown={close} onFocusOut={left}>
      <button aria-expanded={open.value} aria-label={`${picture.rig}: rigs`} onClick={() => (open.value = !open.value)}>
        <b title={picture.playing?.rig ?? picture.rig}>{picture.playing?.rig ?? picture.rig}</b> <OpensList />
      </button>
      {open.value && (
        <div class="list">
          <ul aria-label="Rigs">{picture.rigs.map((rig) => <Choice key={rig.name} rig={rig} kind={tagKind(rig, picture.alarms)} shown={rig === own} onRig={show} />)}</ul>
          <a href="#another" onClick={() => (open.value = false)}>Add a board or demo motor</a>
          {own?.demo_motor && <button onClick={() => end(stopDemo(own.name))}>Stop this demo motor</button>}
          {own?.playing && <button onClick={() => end(stopPlay(own.playing), store.afterPlaying(picture.playing?.rig ?? ""))}>Stop playing this run</button>}
          {own && !own.demo_motor && !own.playing && <button onClick={() => { open.value = false; removing.value = true; }}>Remove this rig</button>}
          {trouble.value && !removing.value && <p class="trouble" role="alert">{trouble.value}</p>}
        </div>
      )}
      {own && removing.value && (
        <Remove rig={own.name} trouble={trouble.value} onYes={() => end(removeRig(own.name))} onNo={() => { removing.value = false; trouble.value = ""; toName(); }} />
      )}
    </div>
  );
}

function Choice({ rig, kind, shown, onRig }: { rig: Rig; kind: string; shown: boolean; onRig: (name: string) => void }): JSX.Element {
  return (
    <li>
      <button aria-current={shown} onClick={() => onRig(rig.name)}>
        <b>{rig.playing ? rig.name.slice(14) : rig.name}</b>
        <span>{rigWords(rig)}{shown ? "; shown now" : ""}</span>
        {kind && <span class={`tag ${kind}`}><CautionMark />{rig.tag}</span>}
      </button>
    </li>
  );
}

interface RemoveProps {
  readonly rig: string;
  readonly trouble: string;
  readonly onYes: () => void;
  readonly onNo: () => void;
}

function Remove({ rig, trouble, onYes, onNo }: RemoveProps): JSX.Element {
  const dialog = useRef<HTMLDialogElement>(null);
  const keep = useRef<HTMLButtonElement>(null);
  useEffect(() => {
    dialog.current?.showModal();
    keep.current?.focus(); // Enter alone removes nothing
  }, []);
  return (
    <dialog ref={dialog} aria-labelledby="remove" onClose={onNo}>
      <h2 id="remove">Remove {rig}?</h2>
      <p>Slipring watches it no more and forgets its settings. Its recordings stay; its settings file, if it has one, is kept as {rig}.toml.previous.</p>
      {trouble && <p class="trouble" role="alert">{trouble}</p>}
      <div class="row">
        <button class="btn first" onClick={onYes}>Remove {rig}</button>
        <button class="btn" ref={keep} onClick={() => dialog.current?.close()}>Keep it</button>
      </div>
    </dialog>
  );
}
