/**
 * The line below the head: cautions that are so now, the worst first, the trouble of other rigs last.
 * Pure: a picture and how long ago it came, to sentences.
 */
import { STALE_S, TOO_OLD_S } from "./ageing";
import { age, clock, number, rough, stretch, typeset } from "./format";
import { stands } from "./alarms";
import type { Line, Picture, Trace } from "./picture";
import { plateShare } from "./plate";
import { roomWords } from "./words";

export interface Caution {
  readonly key: string;
  readonly bold: string;
  readonly rest: string;
}

/** Lost samples stay in the line this long, so that they can be read. */
const LOSS_SHOWN_S = 10;

type Rule = (picture: Picture, silence_s: number) => Caution | null;

/** Above the plate by more than this: plates are round figures, and sensors are a few per cent off. Ours. */
const OVER_PLATE = 1.1;
/** A motor that has just come up to speed still draws more. Ours. */
const SETTLED_S = 3;

const RULES: readonly Rule[] = [
  disconnected, ended, notWatched, tooOld, stale, stalled, concluded, overPlate, recordingFailed, nearlyFull, alarmsTrouble, clipped, lost, anotherBoard, otherRig,
];

/** `lostService_utc_s`: when the socket closed, on the service's clock; null while it is open. */
export function cautions(picture: Picture, silence_s: number, lostService_utc_s: number | null): Caution[] {
  if (lostService_utc_s !== null) return [serviceGone(lostService_utc_s)];
  if (silence_s > STALE_S) return [silent(silence_s)];
  if (picture.playing) return [otherRig(picture)].filter((caution) => caution !== null); // the rest is over
  return RULES.map((rule) => rule(picture, silence_s)).filter((caution) => caution !== null);
}

function serviceGone(since_utc_s: number): Caution {
  const rest = "Whether the recording goes on is not known here. The motor may still be running.";
  return { key: "service", bold: `This page lost the service at ${clock(since_utc_s)}.`, rest };
}

function silent(silence_s: number): Caution {
  const bold = `Picture is ${age(silence_s)} old.`;
  return { key: "silent", bold, rest: "The service is connected, but it sends nothing." };
}

function disconnected({ connection, now_utc_s }: Picture): Caution | null {
  if (connection.state !== "disconnected") return null;
  const bold = `Wire lost at ${clock(connection.since_utc_s ?? now_utc_s)}.`;
  return { key: "disconnected", bold, rest: "The motor may still be running." };
}

function ended({ connection, board, now_utc_s }: Picture): Caution | null {
  if (connection.state !== "ended" || !board) return null;
  return { key: "ended", bold: `The demo motor ended at ${clock(connection.since_utc_s ?? now_utc_s)}.`, rest: "What is shown was the last of it." };
}

/** Why stands large below: here only what follows from it. */
function notWatched({ rig, connection }: Picture): Caution | null {
  if (connection.state !== "refused" && connection.state !== "settings_refused") return null;
  return { key: "refused", bold: `${rig} is not watched.`, rest: "Its motor may be running." };
}

/** Where nobody is to be told of it as an alarm: it is turned off, or shelved. */
function stalled({ readings, alarms, rig }: Picture): Caution | null {
  const state = readings["run_state"];
  if (stands(alarms, rig, "stalled")) return null;
  if (state?.value !== "stalled" || state.aged || state.confidence === "absent") return null;
  return { key: "stalled", bold: "Stalled.", rest: "A stalled winding overheats in seconds: switch off first, then look why." };
}

/** Its signs and the next test stand behind all that was on the screen before, which it must not move. */
function concluded({ verdicts }: Picture): Caution | null {
  const first = verdicts?.[0];
  if (!first) return null;
  return { key: "concluded", bold: `${first.answer.split(/[:.](?: |$)/, 1)[0]!}.`, rest: "Signs and the next test stand at the end of Watch." };
}

function overPlate(picture: Picture): Caution | null {
  const share = plateShare(picture);
  const since_s = picture.now_utc_s - (picture.state_since_utc_s ?? picture.now_utc_s);
  if (share === null || share < OVER_PLATE || since_s < SETTLED_S || picture.readings["run_state"]?.value !== "running") return null;
  const bold = `Current is ${number(share * 100)}\u00a0% of the plate.`;
  return { key: "over_plate", bold, rest: "A winding that carries more than its plate says gets too hot." };
}

function stale(picture: Picture, silence_s: number): Caution | null {
  if (picture.connection.state !== "stale" || picture.sample_utc_s === null) return null;
  const bold = `Picture is ${age(picture.now_utc_s - picture.sample_utc_s + silence_s)} old.`;
  return { key: "stale", bold, rest: "The wire is open, no samples come. The motor may still be running." };
}

function tooOld(picture: Picture): Caution | null {
  if (picture.connection.state !== "too_old") return null;
  const bold = picture.sample_utc_s === null ? "No samples yet." : `No samples since ${clock(picture.sample_utc_s)}.`;
  const rest = `The wire is open. Numbers are dashes after ${TOO_OLD_S} s; the motor may still be running.`;
  return { key: "too_old", bold, rest };
}

function recordingFailed({ recording, alarms, rig }: Picture): Caution | null {
  if (recording.state !== "failed" || stands(alarms, rig, "recording_failed")) return null;
  return { key: "recording", bold: "Recording failed.", rest: sentence(recording.reason) };
}

/** Before that there is nothing to do about it. */
const ROOM_CAUTION_S = 3600;

function nearlyFull({ recording, alarms, rig }: Picture): Caution | null {
  const { state, room_s } = recording;
  if (stands(alarms, rig, "disk_nearly_full")) return null;
  if ((state !== "recording" && state !== "gap") || room_s === null || room_s >= ROOM_CAUTION_S) return null;
  const rest = "Then samples wait in memory for a while, and readings go on. Free some of the disk of the PC, or agree under Rig to thin old samples.";
  return { key: "nearly_full", bold: `The disk has ${roomWords(room_s)}.`, rest };
}

function clipped({ trace }: Picture): Caution | null {
  const line = trace?.lines.find((each) => each.clipped);
  if (!line) return null;
  const bold = `${lineName(line)} is clipped at ${rangeWords(line)}.`;
  return { key: "clipped", bold, rest: "Its RMS is at least what is shown; peak and harmonics are not known." };
}

function lost({ damage, now_utc_s, trace }: Picture): Caution | null {
  if (damage.last_utc_s === null || now_utc_s - damage.last_utc_s > LOSS_SHOWN_S) return null;
  const gap_s = trace ? gapLength(trace) : 0;
  const bold = gap_s > 0 ? `${stretch(gap_s)} of samples lost` : sentence(typeset(damage.last_text)).replace(/\.$/, "");
  const frames = gap_s > 0 && damage.last_text ? ` (${typeset(damage.last_text)})` : "";
  const rest = `at ${clock(damage.last_utc_s)}${frames}. Readings that needed them were doubtful or absent.`;
  return { key: "lost", bold, rest };
}

function anotherBoard({ board }: Picture): Caution | null {
  if (!board?.instead_of) return null;
  const rest = `Plate and settings of this rig were made for ${board.instead_of}; a run of its own is recorded.`;
  return { key: "another_board", bold: `Another board answers: ${board.serial}.`, rest };
}

/** What is watched of alarms themselves is not. */
function alarmsTrouble({ alarms }: Picture): Caution | null {
  return alarms.trouble ? { key: "alarms", bold: "Alarms.", rest: alarms.trouble } : null;
}

/** Its alarms stand in the line themselves. */
function otherRig({ rig, rigs, alarms }: Picture): Caution | null {
  const worst = rigs.find(({ name, rank }) => rank > 0 && name !== rig && !alarms.standing.some((alarm) => alarm.rig === name));
  return worst ? { key: `rig ${worst.name}`, bold: `${worst.name}: ${worst.tag}.`, rest: "" } : null;
}

export function gapLength(trace: Trace): number {
  return trace.gaps.reduce((sum, [from, to]) => sum + to - from, 0);
}

export function lineName(line: Line): string {
  const role = line.role.charAt(0).toUpperCase() + line.role.slice(1);
  return line.place && line.place !== "supply" && line.place !== "line" ? `${role} ${line.place.replaceAll("_", " ")}` : role;
}

/** "±27.9 A", or both ends where they differ. */
export function rangeWords({ range: [low, high], unit }: Line): string {
  const even = Math.abs(low + high) < 0.02 * (high - low);
  return even ? `±${rough(high, unit)}` : `${rough(low, unit)} and ${rough(high, unit)}`;
}

function sentence(text: string): string {
  const capital = text.charAt(0).toUpperCase() + text.slice(1);
  return !capital || /[.:]$/.test(capital) ? capital : `${capital}.`;
}
