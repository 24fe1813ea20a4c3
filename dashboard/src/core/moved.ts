/**
 * Whether a picture is of another moment than the words beside it: power came or went, the load changed, a number
 * became doubtful. Noise, and what creeps, is not: words wait for their turn. Pure.
 */
import type { Picture, Reading, Trace } from "./picture";

/** Of the larger of both. */
const PART = 0.1;
/** Below this share of a channel's range a change is noise. */
const QUIET = 0.01;
/** A number whose last digits dance has not moved. */
const LAST_DIGITS = 10;

/** `digits`: decimals that are shown of a reading, by its id. */
export function moved(before: Picture, after: Picture, digits: (id: string) => number): boolean {
  if (before.far.join() !== after.far.join() || traceMoved(before.trace, after.trace)) return true;
  return after.far.some((id) => readingMoved(before.readings[id], after.readings[id], LAST_DIGITS / 10 ** digits(id)));
}

function traceMoved(before: Trace | null, after: Trace | null): boolean {
  if (!before || !after) return before !== after;
  if (shape(before) !== shape(after) || apart(before.span_s, after.span_s, after.span_s, 0)) return true;
  const peaks = after.lines.some((line, k) => {
    const least = QUIET * Math.max(...line.range.map(Math.abs));
    return line.peak.some((value, end) => apart(value, before.lines[k]!.peak[end]!, Math.max(...line.peak.map(Math.abs)), least));
  });
  const [was, is] = [before.power?.mean ?? 0, after.power?.mean ?? 0];
  return peaks || apart(was, is, Math.max(Math.abs(was), Math.abs(is)), QUIET * fullPower(after));
}

/** What changes without a number: which lines there are, what the picture is held at, whether there is a phase. */
function shape({ lines, held_at, cycles, zero_current_s, gaps }: Trace): string {
  return [lines.map(({ name, clipped }) => `${name} ${clipped}`), held_at, cycles, zero_current_s === null, gaps.length > 0].join();
}

function fullPower({ lines }: Trace): number {
  const most = (role: string): number => Math.max(0, ...lines.filter((line) => line.role === role).flatMap(({ peak }) => peak.map(Math.abs)));
  return most("voltage") * most("current");
}

function readingMoved(before: Reading | undefined, after: Reading | undefined, least: number): boolean {
  if (before?.confidence !== after?.confidence || before?.aged !== after?.aged || before?.least !== after?.least) return true;
  const [was, is] = [before?.value, after?.value];
  if (typeof was !== "number" || typeof is !== "number") return typeof was !== typeof is;
  return apart(was, is, Math.max(Math.abs(was), Math.abs(is)), least);
}

function apart(a: number, b: number, size: number, least: number): boolean {
  return Math.abs(a - b) > Math.max(PART * size, least);
}
