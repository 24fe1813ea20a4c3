/**
 * One binary message of the service into a hello or a picture, without copying the samples.
 * The arrays are views on the message; whoever keeps a picture keeps its buffer. Throws BadMessage
 * with a sentence for what does not fit server/live/SOCKET.md.
 */
import type { Trends } from "./night";
import type { Hello, Picture } from "./picture";
import type { Question } from "./visitor";

export class BadMessage extends Error {}

/** What an array is before its floats are found. */
interface Reference {
  readonly at: number;
  readonly n: number;
}

type Json = Record<string, unknown>;
type View = (reference: unknown) => Float32Array;

const HEADER_AT = 4;

/** What waits for the consent of the PC. */
export interface AskedMessage {
  readonly kind: "asked";
  readonly questions: readonly Question[];
}

export function unpack(message: ArrayBuffer): Hello | Picture | AskedMessage {
  const [header, view] = opened(message);
  if (header["kind"] === "hello") return header as unknown as Hello;
  if (header["kind"] === "asked") return header as unknown as AskedMessage;
  if (header["kind"] !== "picture") throw new BadMessage(`unknown kind ${String(header["kind"])}`);
  resolve(header, view);
  return header as unknown as Picture;
}

/** The same, of trends of a night: they come over HTTP in the same packing. */
export function unpackTrends(message: ArrayBuffer): Trends {
  const [header, view] = opened(message);
  if (header["kind"] !== "trends") throw new BadMessage(`unknown kind ${String(header["kind"])}`);
  for (const band of Object.values(header["readings"] as Json)) replace(band as Json, ["low", "high", "mean", "trusted"], view);
  return header as unknown as Trends;
}

function opened(message: ArrayBuffer): readonly [Json, View] {
  if (message.byteLength < HEADER_AT) throw new BadMessage(`message of ${message.byteLength} bytes`);
  const length = new DataView(message).getUint32(0, true);
  const end = HEADER_AT + length;
  if (end > message.byteLength) throw new BadMessage(`header of ${length} bytes in ${message.byteLength}`);
  return [parse(new Uint8Array(message, HEADER_AT, length)), viewer(message, Math.ceil(end / 4) * 4)];
}

/** In every browser and in Node, but not in the language's own library, which is all that core may use. */
declare const TextDecoder: new (label: string, options: { fatal: boolean }) => { decode(bytes: Uint8Array): string };

const utf8 = new TextDecoder("utf-8", { fatal: true });

function parse(bytes: Uint8Array): Json {
  try {
    return JSON.parse(utf8.decode(bytes)) as Json;
  } catch {
    throw new BadMessage("header is not JSON");
  }
}

/** The floats are little endian and so is every machine that runs a browser today: a view is enough. */
function viewer(message: ArrayBuffer, floatsAt: number): View {
  const available = Math.max(0, Math.floor((message.byteLength - floatsAt) / 4));
  return (reference) => {
    const { at, n } = reference as Reference;
    const whole = Number.isInteger(at) && Number.isInteger(n) && at >= 0 && n >= 0;
    if (!whole || at + n > available) throw new BadMessage(`array ${at}+${n} of ${available} floats`);
    return n === 0 ? new Float32Array(0) : new Float32Array(message, floatsAt + at * 4, n);
  };
}

function resolve(header: Json, view: View): void {
  const trace = header["trace"] as Json | null;
  if (trace) {
    for (const line of trace["lines"] as Json[]) replace(line, ["low", "high"], view);
    if (trace["power"]) replace(trace["power"] as Json, ["low", "high"], view);
  }
  const strip = header["strip"] as Json | null;
  if (strip) {
    replace(strip["wide"] as Json, ["t", "speed", "current"], view);
    replace(strip["rest"] as Json, ["t", "speed_low", "speed_high", "current_low", "current_high"], view);
  }
}

function replace(holder: Json, names: readonly string[], view: View): void {
  for (const name of names) holder[name] = view(holder[name]);
}
