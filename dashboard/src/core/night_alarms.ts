/** The alarms of a night: changes of their lives folded into lives, the newest first, and their words. Pure. */
import { type Alarm, timesWords } from "./alarms";
import { age, clock } from "./format";
import type { Window } from "./night";

/** One that is not over, as the service tells it. */
export type Standing = Pick<Alarm, "rig" | "id" | "rank" | "act" | "why" | "reading" | "value" | "limit" | "more" | "first_utc_s" | "first_id" | "so_s" | "quiet_utc_s" | "held_until_utc_s" | "raised_utc_s" | "acknowledged" | "ended_utc_s">;

/** One change of an alarm's life; changes of a rig are numbered in turn. */
export interface Told extends Omit<Standing, "raised_utc_s" | "acknowledged" | "ended_utc_s"> {
  readonly number: number;
  readonly kind: string; // raised, acknowledged, ended, shelved, unshelved, again
  readonly at_utc_s: number;
  readonly note: string;
  readonly by: string;
}

export interface RigAlarms {
  readonly alarms: readonly Standing[];
  readonly told: readonly Told[]; // the newest first
  readonly trouble: string;
}

/** Which alarms there are, and which of them are over. */
export function whichStand({ alarms }: RigAlarms): string {
  return alarms.map(({ id, ended_utc_s }) => `${id} ${ended_utc_s}`).join();
}

export interface Life extends Standing {
  readonly standing: boolean; // it can be acknowledged
  readonly stood: readonly Stood[]; // the newest first; several of one that was folded
}

/** From when to when one stood; null: it does. */
export type Stood = Pick<Standing, "raised_utc_s" | "ended_utc_s">;

type Single = Omit<Life, "stood">;

/** All that came, were so or ended in a window, or belong to it as the service says, the newest first; what was folded into one is one, with its total. `kept`: changes that lie with runs, some of them the same. */
export function lives({ alarms, told }: RigAlarms, kept: readonly Told[], { from_utc_s, to_utc_s }: Window): Life[] {
  const found = new Map<string, Single>(alarms.map((alarm) => [alarm.id, { ...alarm, standing: true }]));
  for (const change of [...kept, ...told].sort((one, other) => one.number - other.number)) {
    const known = found.get(change.id);
    if (change.kind === "raised" && !known) {
      found.set(change.id, { ...change, raised_utc_s: change.at_utc_s, acknowledged: null, ended_utc_s: null, standing: false });
    } else if (known && !known.standing && change.kind === "ended") {
      found.set(change.id, { ...known, why: change.why, ended_utc_s: change.at_utc_s, so_s: (change.so_s || known.so_s) ?? 0, ...(change.more > known.more ? folded(change) : {}) });
    } else if (known && !known.standing && change.kind === "again") {
      found.set(change.id, { ...known, ...folded(change) });
    } else if (known && !known.standing && change.kind === "acknowledged") {
      found.set(change.id, { ...known, acknowledged: { at_utc_s: change.at_utc_s, note: change.note, by: change.by } });
    }
  }
  const theirs = new Set(kept.map(({ id }) => id)); // also what ended before and stands, as nobody has acknowledged it
  const inside = [...found.values()].filter((life) => life.raised_utc_s <= to_utc_s && ((life.ended_utc_s ?? Infinity) >= from_utc_s || theirs.has(life.id)));
  return stories(inside.sort((one, other) => other.raised_utc_s - one.raised_utc_s));
}

/** The newest of each story speaks for all of it. */
function stories(found: readonly Single[]): Life[] {
  const told = new Map<string, Life>();
  for (const { raised_utc_s, ended_utc_s, ...its } of found) {
    const story = `${its.rig} ${its.first_id || its.id}`;
    const newer = told.get(story) ?? { ...its, raised_utc_s, ended_utc_s, stood: [] };
    told.set(story, { ...newer, raised_utc_s, stood: [...newer.stood, { raised_utc_s, ended_utc_s }] });
  }
  return [...told.values()];
}

function folded({ more, first_utc_s, so_s }: Told): Pick<Told, "more" | "first_utc_s" | "so_s"> {
  return { more, first_utc_s: first_utc_s ?? null, so_s: so_s ?? 0 };
}

/** Whether it still asks for a person: it stands, and nobody has acknowledged it. */
export function waits({ standing, acknowledged }: Life): boolean {
  return standing && acknowledged === null;
}

/** "2 h 14 min, still so; highest 0.41 A"; of one that keeps coming "it came 5 times since 15:36, and was so for 47 s in all; over since 15:57" */
export function howLong(life: Life, now_utc_s: number, reached: string): string {
  const { ended_utc_s: ended, quiet_utc_s: quiet, held_until_utc_s: held } = life;
  const length = age(Math.max(0, (ended ?? now_utc_s) - life.raised_utc_s));
  const times = life.more ? timesWords(life).replace("It", "it") : "";
  const minute = (utc_s: number): string => clock(utc_s).slice(0, 5);
  const open = quiet ? `not so since ${minute(quiet)}${held ? `, held until ${minute(held)}` : ""}` : "still so";
  const why = life.acknowledged?.at_utc_s === ended ? "as it was acknowledged" : "by itself"; // a moment has no end of its own
  const end = ended !== null ? `ended ${times ? `${minute(ended)} ` : ""}${why}` : life.standing ? open : "its end was not told";
  const how = times || (ended === null && !life.standing) || (ended === null && quiet) ? end : `${length}, ${end}`;
  return [times, how, reached].filter(Boolean).join("; ");
}

/** Beside its line: "above 25.0 A for 27.6 s", the time in which it was so, not that for which it stood; one that is so for the first time "above 25.0 A since 00:34", or "caution since 00:34". */
export function labelWords({ rank, value, limit, more, so_s, raised_utc_s, ended_utc_s, quiet_utc_s }: Life): string {
  if (ended_utc_s === null && !quiet_utc_s && !more) return `${limit || rank} since ${clock(raised_utc_s).slice(0, 5)}`;
  const old = more || ended_utc_s === null ? 0 : ended_utc_s - raised_utc_s; // nobody counted then
  const so = so_s || old ? age(so_s || old) : "";
  return [limit || value, so && `for ${so}`].filter(Boolean).join(" ");
}

/** 'acknowledged 07:52, "found a leaf"', or "" while nobody has. */
export function acknowledgedWords({ acknowledged }: Pick<Life, "acknowledged">): string {
  if (!acknowledged) return "";
  return `acknowledged ${clock(acknowledged.at_utc_s).slice(0, 5)}${acknowledged.note ? `, \u201c${acknowledged.note}\u201d` : ""}`;
}

/** "2, one not acknowledged" */
export function countWords(found: readonly Life[]): string {
  const open = found.filter(waits).length;
  if (!found.length) return "";
  return `${found.length}, ${open === 0 ? "none waits for you" : open === 1 ? "one not acknowledged" : `${open} not acknowledged`}`;
}

/** Which end of the readings while it was so says how far it went. */
export function farSide({ value, limit }: Pick<Life, "value" | "limit">): "highest" | "lowest" | "" {
  if (/^(above|below) /.test(limit)) return limit.startsWith("above") ? "highest" : "lowest";
  const [reached, end] = [value, limit].map((words) => parseFloat(words.replace("\u2212", "-").replace(/[\s\u2009\u202f](?=\d)/g, "")));
  return reached! > end! ? "highest" : reached! < end! ? "lowest" : "";
}
