/** What stands in the way when there is no living picture: the chain, broken where it is broken, and what to do. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { capital, number, withUnit } from "../core/format";
import type { ConnectionState, Picture, Rig } from "../core/picture";
import type { Store } from "../core/store";
import { ownRig, rigWords } from "../core/words";
import { Chain, chainOf } from "../draw/chain";
import { startDemo } from "../feed/api";

interface Props {
  readonly store: Store;
  readonly onRig: (name: string) => void;
  readonly onRetry: () => void;
}

/** Alive or only stale: then the drawings say it. Without any rig the first minute does. */
export function noticeNeeded(picture: Picture | null, linked: boolean): boolean {
  return !linked || (!!picture?.rig && picture.connection.state !== "live" && picture.connection.state !== "stale");
}

export function Notice({ store, onRig, onRetry }: Props): JSX.Element | null {
  const picture = store.calm.value;
  const linked = store.linked.value;
  const state = picture?.connection.state ?? "live";
  if (!noticeNeeded(picture, linked)) return null;
  return (
    <div class="cols notice">
      <Chain look={chainOf(state, linked, "", "")} />
      <section class="sheet answer" aria-label="What can be done">
        {linked && picture ? <Wire picture={picture} onRig={onRig} /> : <NoService store={store} onRetry={onRetry} />}
      </section>
    </div>
  );
}

/** Where the service's own sentence is no title. */
const TITLES: Partial<Record<ConnectionState, string>> = {
  disconnected: "The wire is out",
  too_old: "The wire is open, but no samples come",
};

function Wire({ picture, onRig }: { picture: Picture; onRig: (name: string) => void }): JSX.Element {
  const { state, text, detail, port, retry_s, file } = picture.connection;
  const own = ownRig(picture);
  const title = TITLES[state] ?? (file ? text : capital(text)); // a file's name is written as it is
  const retry = retry_s === null ? "" : `Trying again ${state === "refused" ? "after" : "every"} ${withUnit(number(retry_s, retry_s % 1 ? 1 : 0), "s")}.`;
  const gap = state === "disconnected" || (state === "refused" && retry_s !== null) ? "The run stays open; the gap is marked." : "";
  const said = [TITLES[state] ? full(text) : "", state === "no_rig" ? "There are these:" : full(detail), retry, gap].filter(Boolean).join(" ");
  const named = `${title} ${said}`.includes(port) || own?.demo_motor; // the port of a software board is nobody's to plug
  const place = file ? `file ${file}` : named ? "" : `port ${port}`;
  return (
    <>
      <p class={file ? "title long" : "title"}>{title}</p>
      {said && <p>{said}</p>}
      {place && <p class="second place">{place}</p>}
      {state === "no_rig" && <Others picture={picture} onRig={onRig} />}
      {state === "ended" && own?.demo_motor && <StartAgain rig={own} onRig={onRig} />}
      {["no_board", "connecting", "refused"].includes(state) && <div class="row"><a class="btn" href="#another">Add a board or demo motor</a></div>}
    </>
  );
}

function full(text: string): string {
  return !text || /[.:]$/.test(text) ? text : `${text}.`;
}

function Others({ picture, onRig }: { picture: Picture; onRig: (name: string) => void }): JSX.Element {
  return (
    <ul class="choices">
      {picture.rigs.map((rig) => (
        <li key={rig.name}>
          <span><b>{rig.name}</b><span class="second">{rigWords(rig)}</span></span>
          <button class="btn" onClick={() => onRig(rig.name)}>Show {rig.name}</button>
        </li>
      ))}
    </ul>
  );
}

function StartAgain({ rig, onRig }: { rig: Rig; onRig: (name: string) => void }): JSX.Element {
  const trouble = useSignal("");
  const start = (): void => {
    trouble.value = "";
    startDemo(rig.demo_motor, rig.demo_story, rig.demo_pace).then(onRig, (error: Error) => { trouble.value = error.message; });
  };
  return (
    <>
      <div class="row"><button class="btn first" onClick={start}>Start it again</button></div>
      {trouble.value && <p class="trouble" role="alert">{trouble.value}</p>}
    </>
  );
}

function NoService({ store, onRetry }: { store: Store; onRetry: () => void }): JSX.Element {
  const { retry_ms, what, lost_utc_s } = store.link.value;
  const left = retry_ms === null ? 0 : Math.max(0, Math.ceil((retry_ms - store.now_ms.value) / 1000));
  const copy = (): void => void navigator.clipboard?.writeText(`${new Date().toISOString()} ${location.href}: ${what || "no answer"}`);
  return (
    <>
      <p class="title">{lost_utc_s === null ? "This page does not reach the service" : "This page lost the service"}</p>
      <p>
        {lost_utc_s === null ? "Is Slipring still running on this PC?" : "Whether it still records is not known here. The motor may still be running."} Trying again{left ? ` in ${left} s` : ""}.
      </p>
      <div class="row">
        <button class="btn first" onClick={onRetry}>Try now</button>
        <button class="btn" onClick={copy}>Copy what went wrong</button>
      </div>
    </>
  );
}
