/** How the night was spent: a bar of run states, counts, energy, and the account of all samples. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import type { Night } from "../core/night";
import { type Share, accountWords, countsWords, shareWords, shares } from "../core/night_words";
import { accountNote } from "../core/runs";
import { cyclesOf } from "../feed/night";
import type { NightModel } from "./night_model";

const LEAST_SHARE = 0.006; // of the bar: what was short is seen all the same

export function NightSpent({ model }: { model: NightModel }): JSX.Element | null {
  const night = model.night.value;
  const run = model.run.value;
  const cycles = useCycles(run?.recording || run?.summed_up ? run.name : "", model.live);
  if (!night) return null;
  const parts = shares(night);
  const total_s = parts.reduce((sum, { seconds }) => sum + seconds, 0);
  return (
    <section class="sheet nightspent" aria-labelledby="nightspent">
      <h2 id="nightspent">How the night was spent</h2>
      {total_s > 0 && <Bar parts={parts} total_s={total_s} />}
      <ul class="sharewords">{parts.map((share, k) => <li key={share.state} class={k ? "" : "first"}><span class={`swatch ${share.state.replace(" ", "_")}`} aria-hidden="true" />{shareWords(share, total_s)}</li>)}</ul>
      <p class="second">{countsWords(night, cycles)}</p>
      <Account night={night} open={run ? run.recording : model.live} />
    </section>
  );
}

function Bar({ parts, total_s }: { parts: readonly Share[]; total_s: number }): JSX.Element {
  return (
    <div class="sharebar" aria-hidden="true">
      {parts.map(({ state, seconds }) => <span key={state} class={`swatch ${state.replace(" ", "_")}`} style={{ flexGrow: Math.max(seconds / total_s, LEAST_SHARE) }} />)}
    </div>
  );
}

function Account({ night, open }: { night: Night; open: boolean }): JSX.Element {
  const { account, accounts, runs, counted_from_utc_s, silent_since_utc_s } = night;
  const part = accounts < runs.length ? `Of ${accounts} of the ${runs.length} runs; it is drawn up when a run has closed.` : "";
  return (
    <details class="account">
      <summary><b>Account of samples</b> <span class="second">{accounts === 0 ? "It is drawn up when a run has closed." : accountNote(account, open, counted_from_utc_s, silent_since_utc_s)}</span></summary>
      {accounts > 0 && part && <p class="second">{part}</p>}
      <ul>{account.map((line) => <li key={`${line.what} ${line.words}`}>{accountWords(line)}</li>)}</ul>
    </details>
  );
}

/** Cycles are counted run by run; one that is not summed up yet has none to tell. */
function useCycles(run: string, live: boolean): number | null {
  const cycles = useSignal<number | null>(null);
  useEffect(() => {
    cycles.value = null;
    if (!run) return undefined;
    const look = (): void => void cyclesOf(run).then((found) => { cycles.value = found; });
    look();
    const timer = live ? setInterval(look, 10_000) : 0;
    return () => clearInterval(timer);
  }, [run, live]);
  return cycles.value;
}
