/** The limits in the strips of a night: those that a person set, and those of alarms that are watched or came. Pure. */
import type { AlarmSettings } from "./alarms";
import type { Life } from "./night_alarms";
import { twinOf } from "./night_readings";
import type { Limits } from "./picture";

export type SetAlarm = Pick<AlarmSettings, "rank" | "reading" | "low" | "high">;

/** By the reading in whose strip they stand. */
export type Ends = Readonly<Record<string, readonly number[]>>;

/** What is known of limits, in the units of the strips. `unitOf`, `rateOf`: a reading's unit, and what a set value is multiplied by. */
export interface Known {
  readonly limits: Limits;
  readonly alarms: readonly SetAlarm[];
  readonly lives: readonly Pick<Life, "reading" | "limit">[];
  readonly unitOf: (id: string) => string;
  readonly rateOf: (id: string) => number;
}

/** `twins`: limits of an RMS in the strip of its mean, and the other way round, where that has no strip of its own. */
export function limitsOf(ids: readonly string[], known: Known): { readonly own: Ends; readonly twins: Ends } {
  const own = Object.fromEntries(ids.map((id) => [id, endsOf(id, known)]));
  const twins = Object.fromEntries(ids.map((id) => [id, ids.includes(twinOf(id)) ? [] : endsOf(twinOf(id), known).filter((end) => !own[id]!.includes(end))]));
  return { own, twins };
}

function endsOf(id: string, { limits, alarms, lives, unitOf, rateOf }: Known): number[] {
  const watched = alarms.filter(({ rank, reading }) => reading === id && rank !== "off").flatMap(({ low, high }) => [low, high]);
  const set = [...(limits[id] ?? []), ...watched.map((end) => (end === null ? null : end * rateOf(id)))].filter((end) => end !== null);
  const came = lives.filter(({ reading }) => reading === id).flatMap(({ limit }) => {
    const [amount, decimals] = [amountOf(limit, unitOf(id)), /\.(\d+)/.exec(limit)?.[1]?.length ?? 0];
    return amount === null || set.some((end) => end.toFixed(decimals) === amount.toFixed(decimals)) ? [] : [amount]; // the same in fewer digits
  });
  return [...new Set([...set, ...came])];
}

/** "above 6.5 A" -> 6.5; null where it is in another unit, or no amount. */
export function amountOf(words: string, unit: string): number | null {
  const found = /([-\u2212]?\d[\d\s\u2009\u202f]*(?:\.\d+)?)(?:[\s\u00a0\u202f]+(\S+))?$/.exec(words);
  if (!found || (found[2] ?? "") !== unit) return null;
  return parseFloat(found[1]!.replace("\u2212", "-").replace(/\s/g, ""));
}
