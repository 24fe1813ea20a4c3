/** What happened: newest first, one line each, figures below; what decides something is bold with a filled dot. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { clock, typeset } from "../core/format";
import type { Happened } from "../core/picture";
import type { Store } from "../core/store";
import type { Panel } from "./panel";

const FEW = 7;
const KEPT = 40; // what the service keeps for the page; older ones are in the recording

function StoryView({ store }: { store: Store }): JSX.Element {
  const all = useSignal(false);
  const events = store.calm.value?.events ?? [];
  const shown = all.value ? events : events.slice(0, FEW);
  return (
    <section class="sheet story" aria-labelledby="story">
      <h2 id="story">
        <span>What happened</span>
        {events.length > FEW && (
          <button class="as-table" aria-expanded={all.value} onClick={() => (all.value = !all.value)}>
            {all.value ? "the last few" : `${events.length < KEPT ? "all" : "the last"} ${events.length}`}
          </button>
        )}
      </h2>
      {events.length === 0 && <p class="second">Nothing yet. Starts, stops and what is odd will stand here.</p>}
      <ol>{shown.map((event) => <Moment key={`${event.utc_s} ${event.text}`} event={event} />)}</ol>
    </section>
  );
}

function Moment({ event }: { event: Happened }): JSX.Element {
  return (
    <li class={event.decisive ? "decisive" : ""}>
      <time dateTime={new Date(event.utc_s * 1000).toISOString()}>{clock(event.utc_s, true)}</time>
      <span class="dot" aria-hidden="true" />
      <span>{typeset(event.text)}{event.detail && <small>{typeset(event.detail)}</small>}</span>
    </li>
  );
}

export const STORY: Panel = { key: "story", side: "answers", fits: () => true, view: StoryView };
