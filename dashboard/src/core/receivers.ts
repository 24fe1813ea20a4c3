/** Receivers of alarms in words: whom a rig calls, and how it goes with each (server/notify/NOTIFY.md). Pure. */
import type { Calling } from "./alarms";
import { number, withUnit } from "./format";
import { whenWords } from "./runs";

export interface Receiver {
  readonly name: string;
  readonly kind: string; // webhook, mail or mqtt
  readonly place: string;
  readonly promise: string; // what it means that a message has left this PC
  readonly everything: boolean; // it gets all notices, whomever they name
  readonly sign_of_life_min: number;
  readonly waiting: number;
  readonly waiting_since_utc_s: number | null;
  readonly dropped: number;
  readonly sent_utc_s: number | null;
  readonly error: string; // why the last attempt failed, or ""
  readonly error_utc_s: number | null;
  readonly next_try_s: number | null;
}

export interface Receivers {
  readonly file: string;
  readonly refusal: string; // why the file cannot be used, or ""
  readonly trouble: string; // why messages are not on the disk, or ""
  readonly receivers: readonly Receiver[];
}

/** Whom alarms and cautions of a rig go to, in one sentence each, the ones that nobody hears first. */
export function calledWords(rig: string, calling: Calling, receivers: readonly Receiver[]): readonly string[] {
  const known = receivers.map(({ name }) => name);
  const all = receivers.filter(({ everything }) => everything).map(({ name }) => name);
  const wanted = (names: string): readonly string[] => names.split(",").map((name) => name.trim()).filter(Boolean);
  const missing = [...wanted(calling.alarm), ...wanted(calling.caution)].filter((name, k, every) => !known.includes(name) && every.indexOf(name) === k);
  const named = (names: string): readonly string[] => known.filter((name) => all.includes(name) || wanted(names).includes(name));
  const alarm = wanted(calling.alarm).some((name) => known.includes(name)) ? named(calling.alarm) : known;
  return [
    ...missing.map((name) => `${rig} calls ${name}, and there is no such receiver.`),
    `Alarms of ${rig} go to ${listed(alarm)}, cautions to ${listed(named(calling.caution))}.`,
    ...(calling.quiet_from && calling.quiet_to ? [`Quiet hours from ${calling.quiet_from} to ${calling.quiet_to}: cautions wait until they end, alarms never wait.`] : []),
  ];
}

function listed(names: readonly string[]): string {
  return names.length < 2 ? (names[0] ?? "nobody") : `${names.slice(0, -1).join(", ")} and ${names[names.length - 1]}`;
}

/** What waits: "3 messages wait, the oldest since 25 Nov 14:05"; "" where nothing does. */
export function waitingWords({ waiting, waiting_since_utc_s, dropped }: Receiver, now_utc_s: number): string {
  const since = waiting_since_utc_s === null ? "" : `${waiting === 1 ? "" : ", the oldest"} since ${whenWords(waiting_since_utc_s, now_utc_s)}`;
  const said = waiting ? [`${number(waiting)} ${waiting === 1 ? "message waits" : "messages wait"}${since}`] : [];
  if (dropped) said.push(`${number(dropped)} ${dropped === 1 ? "was" : "were"} given up: too many, too old, or refused`);
  return said.join("; ");
}

/** When something last reached it. */
export function sentWords({ sent_utc_s }: Receiver, now_utc_s: number): string {
  return sent_utc_s === null ? "not reached since the service started" : `last reached ${whenWords(sent_utc_s, now_utc_s)}`;
}

/** Why the last attempt failed and when it is tried again; "" where it did not fail. */
export function errorWords({ error, next_try_s }: Receiver): string {
  if (!error) return "";
  const again = next_try_s === null ? "" : next_try_s < 1 ? " It is tried again now." : ` It is tried again in ${nextWords(next_try_s)}.`;
  return error + again;
}

function nextWords(seconds: number): string {
  return seconds < 90 ? withUnit(number(Math.ceil(seconds)), "s") : withUnit(number(seconds / 60), "min");
}

/** That it is still alive is told so often, or not at all. */
export function lifeWords({ sign_of_life_min }: Receiver): string {
  return sign_of_life_min ? `a sign of life every ${sign_of_life_min === 1 ? "minute" : withUnit(number(sign_of_life_min), "min")}` : "no sign of life: silence says nothing";
}
