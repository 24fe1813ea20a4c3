/** What stands in the way when there is no living picture: the chain, broken where it is broken, and what to do. */
import type { JSX } from "preact";
import { number, withUnit } from "../core/format";
import type { ConnectionState, Picture } from "../core/picture";
import type { Store } from "../core/store";
import { Chain, chainOf } from "../draw/chain";

interface Props {
  readonly store: Store;
  readonly onRetry: () => void;
}

/** Alive or only stale: then the drawings say it. */
export function noticeNeeded(state: ConnectionState, linked: boolean): boolean {
  return !linked || ["connecting", "refused", "disconnected"].includes(state);
}

export function Notice({ store, onRetry }: Props): JSX.Element | null {
  const picture = store.far.value;
  const linked = store.linked.value;
  const state = picture?.connection.state ?? "live";
  if (!noticeNeeded(state, linked)) return null;
  return (
    <div class="cols notice">
      <Chain look={chainOf(state, linked, "", "")} />
      <section class="sheet answer" aria-label="What can be done">
        {linked && picture ? <Wire picture={picture} /> : <NoService store={store} onRetry={onRetry} />}
      </section>
    </div>
  );
}

function Wire({ picture }: { picture: Picture }): JSX.Element {
  const { state, text, detail, port, retry_s } = picture.connection;
  const title = { connecting: "Waiting for the board to say what it measures", refused: text, disconnected: "The wire is out" }[state as string] ?? text;
  const retry = retry_s === null ? "" : ` Trying again every ${withUnit(number(retry_s, retry_s % 1 ? 1 : 0), "s")}.`;
  const rest = state === "disconnected" ? `${retry} The run stays open; the gap is marked.` : retry;
  return (
    <>
      <p class="title">{title}</p>
      <p>{[state === "connecting" ? text : "", detail].filter(Boolean).join(" ")}{rest}</p>
      {port && <p class="second">port {port}</p>}
    </>
  );
}

function NoService({ store, onRetry }: Props): JSX.Element {
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
