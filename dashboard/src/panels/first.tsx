/** The first minute: no board yet. What each port says, and a demo motor one press away. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { capital } from "../core/format";
import { type DemoMotor, type Port, demoMotors, ports, startDemo, usePort } from "../feed/api";
import { Chain, chainOf } from "../draw/chain";

const LOOK_MS = 2000;

interface Props {
  readonly onRig: (name: string) => void;
}

export function First({ onRig }: Props): JSX.Element {
  const found = useSignal<readonly Port[] | null>(null);
  const trouble = useSignal("");
  const taken = useRef(false);
  const look = (): Promise<void> => ports().then((list) => {
    found.value = list;
    const board = list.find((port) => port.board && port.usable);
    if (!board || taken.current) return;
    taken.current = true; // once: whoever takes the rig away again is not overruled
    act(usePort(board.port));
  }, (error: Error) => { trouble.value = error.message; });
  useEffect(() => {
    void look();
    const timer = setInterval(() => void look(), LOOK_MS);
    return () => clearInterval(timer);
  }, []);
  const act = (doing: Promise<string>): void => {
    trouble.value = "";
    doing.then(onRig, (error: Error) => { trouble.value = error.message; });
  };
  const chain = chainOf("no_board", true, "", "");
  const count = found.value?.length ?? 0;
  const words = found.value === null ? "looking" : count === 0 ? "looking: no serial port" : `looking: ${count} ${count === 1 ? "port" : "ports"}`;
  return (
    <>
      <div class="cols one"><Chain look={{ ...chain, words: ["", words, ""] }} /></div>
      {trouble.value && <p class="trouble" role="alert">{trouble.value}</p>}
      <div class="cols half">
        <section class="sheet answer" aria-labelledby="with">
          <h2 id="with"><small>With a board</small></h2>
          <p class="title">Plug it in. It is found by itself.</p>
          <Ports found={found.value} act={act} />
          <div class="row"><button class="btn" onClick={() => void look()}>Look again</button><TypePort act={act} /></div>
          <div class="next"><b>A port is refused?</b>On Linux the port usually belongs to the group “dialout”. Ask the owner of this PC to add you, then log in again.</div>
        </section>
        <section class="sheet answer" aria-labelledby="without">
          <h2 id="without"><small>Without a board</small></h2>
          <p class="title">Start a motor of the demo bench</p>
          <Demo act={act} onRig={onRig} />
          <p class="second">It is marked “demo” on the page and in every recording.</p>
        </section>
      </div>
    </>
  );
}

type Act = (doing: Promise<string>) => void;

function Ports({ found, act }: { found: readonly Port[] | null; act: Act }): JSX.Element {
  if (!found) return <p class="second">Looking at the ports of this PC.</p>;
  if (!found.length) return <p class="second">This PC has no serial port now. A board that is plugged in appears here.</p>;
  return (
    <ul class="choices">
      {found.map(({ port, says, usable }) => (
        <li key={port}>
          <span><b>{port}</b><span class="second">{says}</span></span>
          {usable && <button class="btn" onClick={() => act(usePort(port))}>Ask it</button>}
        </li>
      ))}
    </ul>
  );
}

function TypePort({ act }: { act: Act }): JSX.Element {
  const open = useSignal(false);
  const text = useSignal("");
  if (!open.value) return <button class="btn" onClick={() => (open.value = true)}>Type a port</button>;
  return (
    <form class="row" onSubmit={(event) => { event.preventDefault(); if (text.value) act(usePort(text.value)); }}>
      <label>Port <input value={text.value} placeholder="/dev/ttyACM0 or socket://host:port" onInput={(event) => (text.value = event.currentTarget.value)} /></label>
      <button class="btn">Ask it</button>
    </form>
  );
}

function Demo({ act, onRig }: { act: Act; onRig: (name: string) => void }): JSX.Element {
  const motors = useSignal<readonly DemoMotor[] | null>(null);
  const trouble = useSignal("");
  useEffect(() => {
    demoMotors().then((list) => { motors.value = list; }, (error: Error) => { trouble.value = error.message; });
  }, []);
  if (trouble.value) return <p class="second">{trouble.value}</p>;
  return (
    <ul class="choices">
      {(motors.value ?? []).map(({ motor, name, about, rig }, k) => (
        <li key={motor}>
          <span><b>{capital(name)}</b><span class="second">{about}</span></span>
          {rig ? <button class="btn" onClick={() => onRig(rig)}>Show {rig}</button> : <button class={k ? "btn" : "btn first"} onClick={() => act(startDemo(motor))}>Start</button>}
        </li>
      ))}
    </ul>
  );
}
