/** The few questions that the page asks over HTTP, beside the socket. Errors come out as sentences. */
import type { Connections } from "../core/connections";
import type { Harmonics } from "../core/harmonics";
import type { KeptRig, MotorType } from "../core/settings";
import type { Spectrum } from "../core/spectrum";
import { asksFirst } from "../core/visitor";

const ANSWER_MS = 10_000;
const CONSENT_MS = 75_000; // the PC is given a minute

/** What the service does not do, in its words; `key` is the setting that it is about, or "". */
export class Refusal extends Error {
  constructor(sentence: string, readonly key: string, readonly status = 0) {
    super(sentence);
  }
}

export interface Port {
  readonly port: string;
  readonly says: string;
  readonly usable: boolean;
  readonly board: boolean; // a board answered there
}

export interface DemoMotor {
  readonly motor: string;
  readonly name: string;
  readonly about: string;
  readonly type: string;
  readonly stories: readonly DemoStory[];
  readonly running: readonly { readonly rig: string; readonly story: string; readonly pace: number }[]; // story "": all in turn
}

export interface DemoStory {
  readonly name: string;
  readonly says: string;
  readonly lasts_s: number;
}

export function ports(): Promise<readonly Port[]> {
  return change<readonly Port[]>("api/ports/look", {});
}

export function demoMotors(): Promise<readonly DemoMotor[]> {
  return ask<readonly DemoMotor[]>("api/demo");
}

/** Starts a software board that plays this story over and over, "" all in turn; answers with the name of its rig. */
export async function startDemo(motor: string, story = "", pace = 1): Promise<string> {
  return (await change<{ rig: string }>("api/demo/start", { motor, story, pace })).rig;
}

/** Stops a software board and its rig. */
export function stopDemo(rig: string): Promise<unknown> {
  return change("api/demo/stop", { rig });
}

/** Where the board's sensors go on a type of motor. */
export function motorConnections(type: string): Promise<Connections> {
  return ask<Connections>(`api/motor-types/${encodeURIComponent(type)}/connections`);
}

/** Asks who is at this port; makes nothing. */
export function askPort(port: string): Promise<Port> {
  return change<Port>("api/ports/ask", { port });
}

/** Makes a rig of this name that reads this port; answers with the name. */
export async function usePort(port: string, name: string): Promise<string> {
  return (await change<{ rig: string }>("api/rigs", { name, port })).rig;
}

/** Forgets a rig; recordings and the settings file before this stay. */
export function removeRig(rig: string): Promise<unknown> {
  return change(`api/rigs/${encodeURIComponent(rig)}`, {}, "DELETE");
}

/** A rig with its settings as they hold now. */
export function keptRig(rig: string): Promise<KeptRig> {
  return ask<KeptRig>(`api/rigs/${encodeURIComponent(rig)}`);
}

/** Changes settings; what is left out stays. Answers with the rig's name, which may be another one. */
export async function changeRig(rig: string, settings: object): Promise<string> {
  return (await change<{ rig: string }>(`api/rigs/${encodeURIComponent(rig)}`, settings, "PUT")).rig;
}

/** The settings before the last change; again: the change. */
export function undoRig(rig: string): Promise<unknown> {
  return change(`api/rigs/${encodeURIComponent(rig)}/undo`, {});
}

export function motorTypes(): Promise<readonly MotorType[]> {
  return ask<readonly MotorType[]>("api/motor-types");
}

export const NAME_MAX = 40;

/** "/dev/ttyACM0" -> "ttyacm0", or "ttyacm0-2": a name for the rig until a person gives another. */
export function rigName(port: string, taken: readonly string[]): string {
  const last = port.split(/[\\/]/).pop()!.toLowerCase().replace(/[^a-z0-9-]+/g, "-").replace(/^-+|-+$/g, "");
  const plain = /[a-z]/.test(last) ? last : `board${last && `-${last}`}`; // a number alone names nothing
  const numbered = (k: number): string => (k < 2 ? plain.slice(0, NAME_MAX) : `${plain.slice(0, NAME_MAX - 3)}-${k}`);
  let k = 1;
  while (taken.includes(numbered(k))) k += 1;
  return numbered(k);
}

/** The spectrum of the rig's main current up to a frequency, the highest line of each column. */
export function spectrum(rig: string, to_hz: number, columns: number): Promise<Spectrum> {
  return ask<Spectrum>(`api/rigs/${encodeURIComponent(rig)}/spectrum?to_hz=${to_hz}&columns=${columns}`);
}

/** All lists of harmonics of a rig, by order, and limits of the current to look along. */
export function harmonics(rig: string): Promise<Harmonics> {
  return ask<Harmonics>(`api/rigs/${encodeURIComponent(rig)}/harmonics`);
}

/** Ask for a change; answers with what the service says. */
export function change<T>(path: string, body: object, method = "POST", answer_ms = ANSWER_MS): Promise<T> {
  const headers = { "Content-Type": "application/json", "Slipring-Request": "1" };
  const patience_ms = asksFirst.value ? CONSENT_MS : answer_ms; // somebody at the PC may have to agree first
  return ask<T>(path, { method, headers, body: JSON.stringify(body), signal: AbortSignal.timeout(patience_ms) });
}

export async function ask<T>(path: string, init: RequestInit = {}): Promise<T> {
  return JSON.parse(await (await answered(path, init)).text()) as T;
}

/** The same, of an answer that is no JSON. */
export async function askBytes(path: string, patience_ms: number): Promise<ArrayBuffer> {
  return (await answered(path, { signal: AbortSignal.timeout(patience_ms) })).arrayBuffer();
}

async function answered(path: string, init: RequestInit): Promise<Response> {
  const response = await fetch(path, { signal: AbortSignal.timeout(ANSWER_MS), ...init });
  if (response.ok) return response;
  const [sentence, key] = said(await response.text());
  throw new Refusal(sentence || `The service answered ${response.status}.`, key, response.status);
}

/** The service puts its sentence under `detail`, and under `key` which setting it is about. */
function said(text: string): readonly [string, string] {
  const word = (value: unknown): string => (typeof value === "string" ? value : "");
  try {
    const { detail, key } = JSON.parse(text) as { detail?: unknown; key?: unknown };
    return [word(detail), word(key)];
  } catch {
    return ["", ""];
  }
}
