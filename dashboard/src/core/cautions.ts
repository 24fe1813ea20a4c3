/**
 * The alarm line: cautions that are so now, the worst first. There are no alarms yet, so nothing here
 * asks anyone to switch off. Pure: a picture and how long ago it came, to sentences.
 */
import { STALE_S, TOO_OLD_S } from "./ageing";
import { age, clock, rough, stretch } from "./format";
import type { Line, Picture, Trace } from "./picture";

export interface Caution {
  readonly key: string;
  readonly bold: string;
  readonly rest: string;
}

/** Lost samples stay in the line this long, so that they can be read. */
const LOSS_SHOWN_S = 10;

type Rule = (picture: Picture, silence_s: number) => Caution | null;

const RULES: readonly Rule[] = [disconnected, refused, tooOld, stale, recordingFailed, clipped, lost, anotherBoard];

/** `lostService_utc_s`: when the socket closed, on the service's clock; null while it is open. */
export function cautions(picture: Picture, silence_s: number, lostService_utc_s: number | null): Caution[] {
  if (lostService_utc_s !== null) return [serviceGone(lostService_utc_s)];
  if (silence_s > STALE_S) return [silent(silence_s)];
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

function refused({ connection }: Picture): Caution | null {
  if (connection.state !== "refused") return null;
  return { key: "refused", bold: sentence(connection.text), rest: connection.detail };
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

function recordingFailed({ recording }: Picture): Caution | null {
  if (recording.state !== "failed") return null;
  return { key: "recording", bold: "Recording failed.", rest: sentence(recording.reason) };
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
  const bold = gap_s > 0 ? `${stretch(gap_s)} of samples lost` : sentence(damage.last_text).replace(/\.$/, "");
  const frames = gap_s > 0 && damage.last_text ? ` (${damage.last_text})` : "";
  const rest = `at ${clock(damage.last_utc_s)}${frames}. Readings that need them are doubtful or absent.`;
  return { key: "lost", bold, rest };
}

function anotherBoard({ board }: Picture): Caution | null {
  if (!board?.instead_of) return null;
  const rest = `Plate and settings of this rig were made for ${board.instead_of}; a run of its own is recorded.`;
  return { key: "another_board", bold: `Another board answers: ${board.serial}.`, rest };
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
