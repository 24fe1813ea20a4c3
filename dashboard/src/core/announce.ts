/**
 * What a screen reader is told by itself: changes of state and connection, cautions, events, at most one
 * sentence in three seconds, the rest summed up. Numbers are never announced.
 */
import type { Caution } from "./cautions";
import { capital } from "./format";
import type { Picture } from "./picture";
import { stateWord } from "./words";

const PAUSE_MS = 3000;

export interface Told {
  readonly said: string; // the sentence to stand in the live region
  readonly said_ms: number;
  readonly state: string;
  readonly caution: string; // key of the one that is so now
  readonly event_utc_s: number;
  readonly verdicts: string; // keys and answers that stand
  readonly waiting: readonly string[];
}

export const SILENT: Told = { said: "", said_ms: -Infinity, state: "", caution: "", event_utc_s: -Infinity, verdicts: "", waiting: [] };

export function announce(told: Told, picture: Picture, linked: boolean, worst: Caution | undefined, now_ms: number): Told {
  const state = stateWord(picture, linked);
  const caution = worst?.key ?? "";
  const fresh = picture.events.filter(({ utc_s, kind }) => utc_s > told.event_utc_s && kind !== "alarm_raised").map((event) => event.text); // an alarm interrupts
  const first = told.state === ""; // what was before the page opened is no news
  const warned = worst && caution !== told.caution ? [worst.bold.replace(/\.$/, "")] : [];
  const verdicts = picture.verdicts.map(({ key }) => key).join();
  const concluded = verdicts === told.verdicts ? [] : picture.verdicts.filter(({ key }) => !told.verdicts.split(",").includes(key)).map(({ answer }) => answer.replace(/\.$/, ""));
  const news = first ? [state] : [...(state === told.state ? [] : [state]), ...warned, ...fresh.reverse(), ...concluded];
  const waiting = [...told.waiting, ...news.filter((text) => !told.waiting.includes(text))];
  const event_utc_s = Math.max(told.event_utc_s, picture.events[0]?.utc_s ?? -Infinity);
  if (!waiting.length || now_ms - told.said_ms < PAUSE_MS) return { ...told, state, caution, event_utc_s, verdicts, waiting };
  return { said: summed(waiting), said_ms: now_ms, state, caution, event_utc_s, verdicts, waiting: [] };
}

function summed(waiting: readonly string[]): string {
  const last = capital(waiting[waiting.length - 1] ?? "");
  const before = waiting.length - 1;
  return before ? `${last}. Before that: ${waiting.slice(0, -1).slice(-2).join(", ")}${before > 2 ? " and more" : ""}.` : `${last}.`;
}
