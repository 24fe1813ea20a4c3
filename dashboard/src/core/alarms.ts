/**
 * Alarms of all rigs in words, and how they are set (server/settings/SETTINGS.md, "Alarms"). Pure.
 */
import { age, clock, plain } from "./format";
import type { Rig } from "./picture";
import type { Field, Given, Lacks } from "./settings";
import { lacksLimit, numberFrom, typed } from "./settings";

export type Rank = "alarm" | "caution";

/** One alarm that is not over. */
export interface Alarm {
  readonly rig: string;
  readonly id: string;
  readonly name: string;
  readonly rank: Rank;
  readonly act: string;
  readonly why: string;
  readonly reading: string;
  readonly value: string;
  readonly limit: string;
  readonly unknown: string; // why it can't be told now whether it is still so, or ""
  readonly more: number; // so many like it were folded into it
  readonly first_utc_s?: number | null; // when the first of them came
  readonly first_id?: string; // its id, or ""
  readonly so_s?: number; // how long it was so in all of them
  readonly quiet_utc_s?: number | null; // since when it has not been so
  readonly held_until_utc_s?: number | null; // it keeps coming, and stands till then all the same
  readonly raised_utc_s: number;
  readonly acknowledged: { readonly at_utc_s: number; readonly note: string; readonly by: string } | null;
  readonly ended_utc_s: number | null;
  readonly shelved_until_utc_s: number | null;
}

/** Of all rigs, the worst first; `more`: so many others; `trouble`: why some are not watched, or "". */
export interface Alarms {
  readonly standing: readonly Alarm[];
  readonly more: number;
  readonly trouble: string;
}

export const NO_ALARMS: Alarms = { standing: [], more: 0, trouble: "" };

/** Whether this one stands for a rig and is so now: what else says the same need not. */
export function stands({ standing }: Alarms, rig: string, name: string): boolean {
  return standing.some((alarm) => alarm.rig === rig && alarm.name === name && alarm.ended_utc_s === null);
}

/** How the word of a rig in a list is drawn: framed, "over", where what it names is not so any more; "" where there is none. */
export function tagKind({ name, rank, tag }: Pick<Rig, "name" | "rank" | "tag">, { standing }: Alarms): string {
  if (rank !== 1) return rank > 1 ? "alarm" : "";
  if (!/, (ended|not so now)$/.test(tag)) return "caution";
  return standing.some((its) => its.rig === name && its.rank === "alarm") ? "alarm over" : "caution over";
}

/** What to do first; of another rig than the one that is shown its name stands before it. */
export function actWords({ rig, act }: Alarm, shown: string): string {
  return rig === shown ? act : `${rig}: ${act}`;
}

/** Why, with what is known of it now: "Current is above 3.0 A. Now 3.4 A. It came 13 times since 14:05, for 58 s in all." */
export function whyWords(alarm: Alarm): string {
  const { why, value, unknown, ended_utc_s, more, held_until_utc_s: held } = alarm;
  const quiet = ended_utc_s === null ? (alarm.quiet_utc_s ?? null) : null;
  const now = value && ended_utc_s === null && quiet === null && !why.includes(value) ? ` Now ${value}.` : "";
  const doubt = unknown ? ` Whether it is so now can\u2019t be told: ${unknown}.` : "";
  const times = more ? ` ${timesWords(alarm)}.` : "";
  const still = held ? ` It stands until it was quiet for 10\u00a0min, at ${clock(held).slice(0, 5)}.` : "";
  return `${quiet === null || unknown ? "" : `Not so since ${clock(quiet)}. `}${why}${now}${doubt}${times}${still}`;
}

/** Whether it must be added that Slipring never stops a motor: some reasons say so. */
export function mustSayItWatches({ rank, why }: Pick<Alarm, "rank" | "why">): boolean {
  return rank === "alarm" && !why.includes("never stops a motor");
}

/** "It came 5 times since 15:36, and was so for 47 s in all" */
export function timesWords({ more, first_utc_s, so_s }: Pick<Alarm, "more" | "first_utc_s" | "so_s">): string {
  const since = first_utc_s ? ` since ${clock(first_utc_s).slice(0, 5)}` : "";
  return `It came ${more === 1 ? "twice" : `${more + 1} times`}${since}${so_s ? `, and was so for ${age(so_s)} in all` : ""}`;
}

/** How it stands: "since 14:16:09", "acknowledged 14:16:20", "ended 14:16:31". */
export function standWords({ acknowledged, ended_utc_s, raised_utc_s }: Alarm): string {
  if (ended_utc_s !== null) return `ended ${clock(ended_utc_s)}`;
  return acknowledged ? `acknowledged ${clock(acknowledged.at_utc_s)}` : `since ${clock(raised_utc_s)}`;
}

/** Whether it is so now, as far as is known: not one that stands only because it keeps coming. */
export function isSo({ ended_utc_s, held_until_utc_s }: Pick<Alarm, "ended_utc_s" | "held_until_utc_s">): boolean {
  return ended_utc_s === null && !held_until_utc_s;
}

/** One that calls: nobody has acknowledged it and it is so. */
export function calls(alarm: Alarm): boolean {
  return alarm.rank === "alarm" && alarm.acknowledged === null && isSo(alarm);
}

/** What a screen reader is told at once, or "". */
export function spoken(alarms: Alarms, shown: string): string {
  const first = alarms.standing.find(calls);
  return first ? `Alarm. ${actWords(first, shown)}. ${first.why}` : "";
}

/** An alarm as the settings have it; null, "" where nothing is said. */
export interface AlarmSettings {
  readonly rank: string;
  readonly act: string;
  readonly reading: string;
  readonly low: number | null;
  readonly high: number | null;
  readonly return_gap: number | null;
  readonly hold_s: number | null;
  readonly state: string;
  readonly event: string;
  readonly verdict: string;
  readonly no_samples_s: number | null;
  readonly drift: string;
  readonly least_percent: number | null;
  readonly trip_class: string;
}

export interface Calling {
  readonly alarm: string;
  readonly caution: string;
  readonly quiet_from: string;
  readonly quiet_to: string;
}

/** Something that is watched, or a ready alarm that nobody has turned on. */
export interface Watched {
  readonly name: string;
  readonly says: string;
  readonly watched: boolean;
  readonly ready: boolean;
  readonly rank: Rank;
  readonly act: string;
  readonly cause: string;
  readonly why: string;
  readonly when: string; // the limit and times that are set, or ""
  readonly shelf: { readonly until_utc_s: number; readonly reason: string; readonly by: string; readonly missed: number } | null;
}

/** What alarms can be set on beside readings. */
export interface Kinds {
  readonly events: Readonly<Record<string, string>>;
  readonly verdicts: Readonly<Record<string, string>>;
}

export type Choices = readonly (readonly [string, string])[];
export type Cause = "limit" | "drift" | "event" | "verdict" | "silence";

export const CAUSES: readonly (readonly [Cause, string])[] = [
  ["limit", "a limit"], ["drift", "a drift"], ["event", "an event"], ["verdict", "a verdict"], ["silence", "missing samples"],
];

const RANKS: Choices = [["caution", "caution: look soon"], ["alarm", "alarm: act now"]]; // the first is the file's own default
const STATES: Choices = [["", "whatever it does"], ["running", "it runs"], ["starting", "it starts"], ["resting", "it rests"]];
const HEAD: readonly Field[] = [
  { key: "name", label: "Name" },
  { key: "act", label: "What to do first", hint: "Switch off" },
  { key: "rank", label: "Rank", choices: RANKS },
];

/** The fields of an alarm of one's own; `readings` by their ids. */
export function alarmFields(cause: Cause, readings: Choices, kinds: Kinds): readonly Field[] {
  const number = (key: string, label: string, unit: string, hint: string): Field => ({ key, label, unit, number: true, hint });
  const hold = number("hold_s", "It must be so for", "s", "2");
  const when: Field = { key: "state", label: "Only while", choices: STATES };
  switch (cause) {
    case "limit":
      return [...HEAD, { key: "reading", label: "Reading", choices: readings, unit: "speeds in r/min" }, number("low", "Lowest", "", "none"), number("high", "Highest", "", "none"), number("return_gap", "Over when back inside by", "", "0"), hold, when];
    case "drift":
      return [...HEAD, { key: "drift", label: "Reading", choices: readings }, number("least_percent", "It counts from", "%", "1")];
    case "event":
      return [...HEAD, { key: "event", label: "When", choices: Object.entries(kinds.events) }];
    case "verdict":
      return [...HEAD, { key: "verdict", label: "When", choices: Object.entries(kinds.verdicts) }];
    case "silence":
      return [...HEAD, number("no_samples_s", "No samples for", "s", "10"), when];
  }
}

/** Of an alarm of one's own. */
export function alarmLacks(cause: Cause): Lacks {
  return (given) => {
    if (!given["act"]?.trim()) return ["act", "It does not say what to do first: fill in what helps. An alarm that asks for nothing helps nobody."];
    return cause === "limit" ? lacksLimit(given) : null;
  };
}

const TRIP_CLASSES: Choices = [["5", "5"], ["10A", "10A"], ["10", "10"], ["20", "20"], ["30", "30"]];

/** Of the ready one of that name: what may be changed of it. */
export function readyFields(name: string): readonly Field[] {
  const own: Field = name === "overloaded"
    ? { key: "trip_class", label: "Trip class of its relay", choices: TRIP_CLASSES, hint: "10" }
    : { key: "hold_s", label: "It must be so for", unit: "s", number: true, hint: "as it is" };
  return [{ key: "act", label: "What to do first" }, { key: "rank", label: "Rank", choices: RANKS }, own];
}

/** `names`: of the receivers there are. */
export function callingFields(names: readonly string[]): readonly Field[] {
  const none = names.length ? "" : "no receiver is set up";
  return [
    { key: "calling.alarm", label: "Alarms go to", hint: none || "all of them" },
    { key: "calling.caution", label: "Cautions go to", hint: none || "nobody" },
    { key: "calling.quiet_from", label: "Quiet from", hint: "22:00" },
    { key: "calling.quiet_to", label: "Quiet to", hint: "06:00" },
  ];
}

/** The first name in a field that no receiver has, with those there are: the field and a sentence; null: all are known. */
export function strangerIn(given: Given, names: readonly string[]): readonly [string, string] | null {
  for (const key of ["calling.alarm", "calling.caution"]) {
    const stranger = (given[key] ?? "").split(",").map((name) => name.trim()).find((name) => name && !names.includes(name));
    if (stranger) return [key, `There is no receiver \u201c${stranger}\u201d; ${names.length ? `there are: ${names.join(", ")}` : "none is set up"}.`];
  }
  return null;
}

/** What raises an alarm that is set. */
export function causeOf(its: AlarmSettings): Cause {
  return its.drift ? "drift" : its.event ? "event" : its.verdict ? "verdict" : its.no_samples_s !== null ? "silence" : "limit";
}

/** What stands in the fields before they are changed. */
export function alarmGiven(name: string, its: AlarmSettings | null, fields: readonly Field[]): Given {
  const first = ({ choices, hint }: Field): string => (choices ? (hint ?? choices[0]?.[0] ?? "") : "");
  return Object.fromEntries(fields.map((field) => {
    if (field.key === "name") return ["name", name];
    const value = its?.[field.key as keyof AlarmSettings];
    return [field.key, value === undefined || value === null || value === "" ? first(field) : typed(value)];
  }));
}

/** The alarm as the service takes it: what was left empty is not said. */
export function alarmChange(given: Given, fields: readonly Field[]): Record<string, string | number> {
  const said = fields.filter(({ key }) => key !== "name").map(({ key, number }) => [key, number ? numberFrom(given[key] ?? "") : (given[key] ?? "").trim()] as const);
  return Object.fromEntries(said.filter(([, value]) => value !== null && value !== "")) as Record<string, string | number>;
}

/** Its name as a person reads it. */
export function nameWords({ name, says, ready }: Watched): string {
  return ready ? says : plain(name);
}
