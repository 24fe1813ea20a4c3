/**
 * The first minute, and later another board: what each port says, and a demo motor one press away. Asking a port makes
 * nothing; a rig is made of a port where a board answered.
 */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { asksFirst, isKnown } from "../core/visitor";
import { NAME_MAX, type Port, askPort, ports, rigName, startDemo, usePort } from "../feed/api";
import { Chain, chainOf } from "../draw/chain";
import { Demo } from "./demo";

const LOOK_MS = 2000;

interface Props {
  readonly rigs: readonly string[]; // the names that there are; without one a board that is found is taken by itself
  readonly onRig: (name: string) => void;
}

export function First({ rigs, onRig }: Props): JSX.Element {
  const found = useSignal<readonly Port[] | null>(null);
  const typed = useSignal<readonly Port[]>([]);
  const trouble = useSignal("");
  const busy = useSignal(""); // the port that is being opened
  const taken = useRef(false);
  const now = useRef(rigs);
  now.current = rigs;
  const act = (doing: Promise<string>, port = ""): void => {
    trouble.value = "";
    busy.value = port;
    doing.then(onRig, (error: Error) => { trouble.value = error.message; }).finally(() => { busy.value = ""; });
  };
  const watch = (port: string, name = rigName(port, now.current)): void => act(usePort(port, name), port);
  const look = (): Promise<void> => ports().then((list) => {
    found.value = list;
    const board = list.find((port) => port.board && port.usable);
    if (!board || now.current.length || taken.current) return;
    taken.current = true; // once: whoever takes the rig away again is not overruled
    watch(board.port);
  }, (error: Error) => { trouble.value = error.message; });
  const ask = (port: string): void => {
    trouble.value = "";
    busy.value = port;
    const put = (list: readonly Port[], said: Port): readonly Port[] => [...list.filter((each) => each.port !== port), said];
    askPort(port).then((said) => {
      if (found.value?.some((each) => each.port === port)) found.value = found.value.map((each) => (each.port === port ? said : each));
      else typed.value = put(typed.value, said);
    }, (error: Error) => { trouble.value = error.message; }).finally(() => { busy.value = ""; });
  };
  useEffect(() => {
    if (!isKnown.value || asksFirst.value) return undefined; // another device opens no port of the PC unasked
    let here = true;
    const again = (): void => void look().finally(() => { if (here) setTimeout(again, LOOK_MS); });
    again();
    return () => { here = false; };
  }, [isKnown.value, asksFirst.value]);
  const list = found.value && [...found.value, ...typed.value.filter(({ port }) => !found.value?.some((each) => each.port === port))];
  const count = found.value?.length ?? 0;
  const words = asksFirst.value ? "" : found.value === null ? "looking" : count === 0 ? "looking: no serial port" : `looking: ${count} ${count === 1 ? "port" : "ports"}`;
  return (
    <>
      {rigs.length === 0 && <div class="cols one"><Chain look={{ ...chainOf("no_board", true, "", ""), words: ["", words, ""] }} /></div>}
      {trouble.value && <p class="trouble" role="alert">{trouble.value}</p>}
      <div class="cols half beginning">
        <section class="sheet answer" aria-labelledby="with">
          <h2 id="with"><small>With a board</small></h2>
          <p class="title">{rigs.length ? "Plug it in, ask its port, then watch it." : "Plug it in. It is found by itself."}</p>
          <Ports found={list} rigs={rigs} busy={busy.value} onAsk={ask} onWatch={watch} />
          <div class="row"><button class="btn" onClick={() => void look()}>Look again</button><TypePort onAsk={ask} /></div>
          <div class="next"><b>A port is refused?</b>On Linux the port usually belongs to the group “dialout”. Ask the owner of this PC to add you, then log in again.</div>
        </section>
        <section class="sheet answer" aria-labelledby="without">
          <h2 id="without"><small>Without a board</small></h2>
          <p class="title">Start a motor of the demo bench</p>
          <p class="second">Computed, no hardware; all invented. Each is marked “demo” on the page and in every recording.</p>
          <Demo onStart={(motor, story, pace) => act(startDemo(motor, story, pace))} onRig={onRig} />
        </section>
      </div>
    </>
  );
}

interface PortsProps {
  readonly found: readonly Port[] | null;
  readonly rigs: readonly string[];
  readonly busy: string;
  readonly onAsk: (port: string) => void;
  readonly onWatch: (port: string, name: string) => void;
}

function Ports({ found, rigs, busy, onAsk, onWatch }: PortsProps): JSX.Element {
  if (!found) return <p class="second">{asksFirst.value ? "The PC is asked before its ports are opened from here." : "Looking at the ports of this PC."}</p>;
  if (!found.length) return <p class="second">{busy ? `Asking ${busy}.` : "This PC has no serial port now. A board that is plugged in appears here."}</p>;
  return (
    <>
      <ul class="choices">
        {found.map(({ port, says, usable, board }) => (
          <li key={port}>
            <span><b>{port}</b><span class="second" role="status">{busy === port ? "being asked" : says}</span></span>
            {usable && board && <Watch port={port} rigs={rigs} busy={busy !== ""} onWatch={onWatch} />}
            {!board && <button class="btn" disabled={busy !== ""} onClick={() => onAsk(port)}>Ask it</button>}
          </li>
        ))}
      </ul>
      {busy && !found.some(({ port }) => port === busy) && <p class="second">Asking {busy}.</p>}
    </>
  );
}

/** Under which name it is watched: one is offered. */
function Watch({ port, rigs, busy, onWatch }: { port: string; rigs: readonly string[]; busy: boolean; onWatch: (port: string, name: string) => void }): JSX.Element {
  const name = useSignal(rigName(port, rigs));
  return (
    <form class="row" onSubmit={(event) => { event.preventDefault(); onWatch(port, name.value.trim() || rigName(port, rigs)); }}>
      <label>Name <input value={name.value} maxLength={NAME_MAX} aria-label={`Name of the rig at ${port}`} autocomplete="off" spellcheck={false} onInput={(event) => (name.value = event.currentTarget.value)} /></label>
      <button class="btn first" disabled={busy}>Watch it</button>
    </form>
  );
}

function TypePort({ onAsk }: { onAsk: (port: string) => void }): JSX.Element {
  const open = useSignal(false);
  const text = useSignal("");
  const field = useRef<HTMLInputElement>(null);
  useEffect(() => { if (open.value) field.current?.focus(); }, [open.value]); // else the keys of the page would act
  if (!open.value) return <button class="btn" onClick={() => (open.value = true)}>Type a port</button>;
  return (
    <form class="row" onSubmit={(event) => { event.preventDefault(); if (text.value.trim()) onAsk(text.value.trim()); }}>
      <label>Port <input ref={field} value={text.value} placeholder="/dev/ttyACM0" onInput={(event) => (text.value = event.currentTarget.value)} /></label>
      <button class="btn">Ask it</button>
      <span class="second">A device, or socket://host:port.</span>
    </form>
  );
}
