/** The figures at the two axes of the drawing of voltage and current: how far each line reached. */
import type { JSX } from "preact";
import { rangeWords } from "../core/cautions";
import { largest, signed, spanWords, tooSmall } from "../core/peaks";
import type { Line, Readings } from "../core/picture";
import { Words } from "../draw/dimension";

const TOP = 9; // the highest place at which a word still stands inside
const LINE = 17; // words of 14 px need this much from one to the next

const RMS: Readonly<Record<string, string>> = { voltage: "voltage_rms_v", current: "current_rms_a" };

/** What of a line is written is as doubtful as its reading; the main ones' stand without a place. */
export function doubt(readings: Readings, { role, place, clipped }: Line, main: boolean): string {
  const key = RMS[role] ?? "";
  const reading = (main ? undefined : readings[`${key}.${place}`]) ?? readings[key];
  return clipped || reading?.confidence === "doubtful" ? " doubt" : "";
}

interface PeaksProps {
  readonly line: Line;
  readonly mark: string;
  readonly y0: number;
  readonly ky: number;
  readonly x: number;
  readonly left: boolean;
  readonly slim: boolean;
}

/** Range frame: the axis reaches only as far as the data did, and its ends carry the measured peaks. */
export function Peaks({ line, mark, y0, ky, x, left, slim }: PeaksProps): JSX.Element {
  const [low, high] = line.peak;
  const name = `${left ? "e " : ""}${line.role}${mark}`;
  const at = left ? x - 6 : x + 6;
  if (slim) return <Words x={x} y={14} class={`${left ? "" : "e "}${line.role}${mark}`}>{spanWords(line)}</Words>;
  const range = line.clipped && <Words x={left ? x + 12 : x - 12} y={y0 + line.range[0] * -ky - 6} class={`${left ? "" : "e "}n halo`}>{`range ${rangeWords(line)}`}</Words>;
  return (
    <>
      <line class="hair" x1={x} x2={x} y1={y0 - Math.max(high, 0) * ky} y2={y0 - Math.min(low, 0) * ky} />
      {peakPlaces(line, y0, ky).map(({ text, y }) => <Words key={y} x={at} y={y + 5} class={name}>{text}</Words>)}
      <Words x={at} y={y0 + 5} class={left ? "e n" : "n"}>0</Words>
      {range}
    </>
  );
}

/** Lines that keep so near to zero need one figure. */
const NEAR = 8;

/** The figures of highest and lowest: one where both say the same or both lie on the zero line, none for zero itself. */
function peakPlaces(line: Line, y0: number, ky: number): { text: string; y: number }[] {
  const { peak: [low, high], unit } = line;
  if (tooSmall(line)) return [{ text: tooSmall(line), y: y0 + LINE }];
  const [above, below] = [{ text: signed(high, unit), y: y0 - high * ky }, { text: signed(low, unit), y: y0 - low * ky }];
  const told = [above, below].filter(({ text }) => /[1-9]/.test(text));
  const size = Math.max(Math.abs(low), Math.abs(high));
  if (told.length > 0 && size * ky < NEAR) return [{ text: largest(line), y: y0 + LINE }];
  if (told.length === 2 && above.text !== below.text) {
    const [top, foot] = spread(above.y, below.y, y0);
    return [{ text: above.text, y: top }, { text: below.text, y: foot }];
  }
  return told.slice(0, 1).map(({ text, y }) => ({ text, y: y < y0 ? Math.min(y, y0 - LINE) : Math.max(y, y0 + LINE) }));
}

/** Heights for the words of highest and lowest, moved apart so that neither stands on the other or on the zero. */
function spread(top: number, foot: number, zero: number): [number, number] {
  const clear = (y: number): number => (y < zero ? Math.min(y, zero - LINE) : Math.max(y, zero + LINE));
  const [above, below] = [clear(top), clear(foot)];
  if (below - above >= LINE) return [above, below];
  if (below > zero) return [above, above + LINE];
  const last = Math.max(below, TOP + LINE);
  return [last - LINE, last];
}
