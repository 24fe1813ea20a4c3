/** Pictures that the service keeps, as it tells them: the twin of `keeping` and of what stands behind it in SOCKET.md. */
import type { Line, Reading, Span, Trace } from "./picture";

export interface Armed {
  readonly what: "start" | "crossing";
  readonly text: string;
  readonly reading: string;
  readonly above: boolean;
  readonly level: number;
  readonly before_s: number;
  readonly after_s: number;
  readonly within_s: number; // how finely the moment will be known
  readonly since_utc_s: number;
  readonly came: boolean; // its moment has come; what follows it is still being taken
}

export interface Kept {
  readonly number: number;
  readonly why: string;
  readonly text: string;
  readonly start_utc_s: number;
  readonly span_s: number;
  readonly moment_s: number; // what it was kept for, from its beginning
}

export interface Keeping {
  readonly armed: Armed | null;
  readonly kept: readonly Kept[];
  readonly trouble: string;
}

/** A line that points can stand on; moments are seconds from the beginning of what is kept. */
export interface KeptLine extends Line {
  readonly channel?: number;
  readonly zeros_s?: readonly number[];
  readonly peaks?: readonly Span[];
  readonly samples?: { readonly first_s: number; readonly step_s: number; readonly values: readonly (number | null)[] };
}

export interface KeptTrace extends Trace {
  readonly from_s: number;
  readonly lines: readonly KeptLine[];
}

export type Between = Readonly<Record<string, Pick<Reading, "value" | "confidence" | "reason" | "u95">>>;

/** Numbers as they come over HTTP, null for "no value". */
type Sent = readonly (number | null)[];

/** A trace as HTTP tells it, its columns as the drawing takes them. */
export function keptTraceFrom(sent: KeptTrace): KeptTrace {
  const columns = (values: unknown): Float32Array => Float32Array.from(values as Sent, (value) => value ?? NaN);
  const lines = sent.lines.map((line) => ({ ...line, low: columns(line.low), high: columns(line.high) }));
  const power = sent.power && { ...sent.power, low: columns(sent.power.low), high: columns(sent.power.high) };
  return { ...sent, lines, power, cycles: cyclesIn(sent) };
}

const CYCLES_MAX = 8; // of more the names of lines find no room between

/** How many cycles are seen, by the zeros of the first line; null where these are too few or too many to tell. */
function cyclesIn({ lines }: KeptTrace): number | null {
  const whole = Math.floor((lines[0]?.zeros_s?.length ?? 0) / 2);
  return whole >= 2 && whole <= CYCLES_MAX ? whole : null;
}
