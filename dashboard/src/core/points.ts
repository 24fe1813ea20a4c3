/**
 * Two points on a picture: where each comes to stand when it is pressed or moved by keys. A point snaps to the nearest
 * zero or peak, else to the nearest sample; a free one stays where it was put. Pure; moments are seconds from the
 * beginning of what is kept.
 */
import type { KeptLine, KeptTrace } from "./kept";

export type Stand = "zero" | "peak" | "sample" | "free";

export interface Point {
  readonly channel: number;
  readonly at_s: number;
  readonly value: number;
  readonly stand: Stand;
}

type Stop = Pick<Point, "at_s" | "value" | "stand">;

const SAME_S = 1e-9;
const FREE_STEPS = 500; // from one end of the picture to the other

export function lineOf(trace: KeptTrace, channel: number): KeptLine | undefined {
  return trace.lines.find((line) => line.channel === channel);
}

/** Zeros and peaks in order of time. */
function stops({ zeros_s = [], peaks = [] }: KeptLine): Stop[] {
  const zeros = zeros_s.map((at_s): Stop => ({ at_s, value: 0, stand: "zero" }));
  return [...zeros, ...peaks.map(([at_s, value]): Stop => ({ at_s, value, stand: "peak" }))].sort((a, b) => a.at_s - b.at_s);
}

/** What a line has at a moment: on the straight line between its samples, or in the middle of its column. */
export function valueAt(trace: KeptTrace, line: KeptLine, at_s: number): number {
  const { samples } = line;
  if (!samples?.values.length) {
    const k = Math.min(Math.max(Math.floor(((at_s - trace.from_s) / trace.span_s) * line.low.length), 0), line.low.length - 1);
    return (line.low[k]! + line.high[k]!) / 2;
  }
  const place = Math.min(Math.max((at_s - samples.first_s) / samples.step_s, 0), samples.values.length - 1);
  const k = Math.min(Math.floor(place), samples.values.length - 2);
  const [here, next] = [samples.values[Math.max(k, 0)] ?? NaN, samples.values[k + 1] ?? NaN];
  return place === k ? here : here + (place - k) * (next - here);
}

function sampleAt({ samples }: KeptLine, at_s: number, step = 0): Stop | null {
  if (!samples?.values.length) return null;
  const k = Math.round((at_s - samples.first_s) / samples.step_s) + step;
  const value = samples.values[k];
  return value == null ? null : { at_s: samples.first_s + k * samples.step_s, value, stand: "sample" };
}

export function freed(trace: KeptTrace, channel: number, at_s: number): Point {
  const line = lineOf(trace, channel);
  return { channel, at_s, value: line ? valueAt(trace, line, at_s) : NaN, stand: "free" };
}

/** The nearest zero or peak within `reach_s`, else the nearest sample, else free. */
export function snapped(trace: KeptTrace, channel: number, at_s: number, reach_s: number): Point {
  const line = lineOf(trace, channel);
  if (!line) return freed(trace, channel, at_s);
  const away = (stop: Stop): number => Math.abs(stop.at_s - at_s);
  const near = stops(line).filter((stop) => away(stop) <= reach_s).sort((a, b) => away(a) - away(b))[0];
  const found = near ?? sampleAt(line, at_s);
  return found ? { channel, ...found } : freed(trace, channel, at_s);
}

/** One step by keys: to the zero or peak beside it, finely to the sample beside it; a free one goes where it likes. */
export function moved(trace: KeptTrace, point: Point, forward: boolean, fine: boolean): Point {
  const line = lineOf(trace, point.channel);
  if (!line) return point;
  const sign = forward ? 1 : -1;
  const inside = (at_s: number): number => Math.min(Math.max(at_s, trace.from_s), trace.from_s + trace.span_s);
  if (point.stand === "free") return freed(trace, point.channel, inside(point.at_s + (sign * trace.span_s) / FREE_STEPS));
  const beyond = stops(line).filter((stop) => (stop.at_s - point.at_s) * sign > SAME_S);
  const next = fine ? beside(line, point.at_s, sign) : forward ? beyond[0] : beyond.at(-1);
  return next ? { channel: point.channel, ...next } : point;
}

/** The sample next to a moment: a zero may lie between two. */
function beside(line: KeptLine, at_s: number, sign: number): Stop | null {
  const near = sampleAt(line, at_s);
  return near && (near.at_s - at_s) * sign > SAME_S ? near : sampleAt(line, at_s, sign);
}

/** Two points to begin with: one cycle from rise to rise of the first line, or what comes nearest to it. */
export function firstPoints(trace: KeptTrace): readonly [Point, Point] | null {
  const line = trace.lines.find(({ channel }) => channel !== undefined);
  if (!line) return null;
  const channel = line.channel!;
  const inside = ({ at_s }: Stop): boolean => at_s >= trace.from_s - SAME_S && at_s <= trace.from_s + trace.span_s + SAME_S;
  const all = stops(line).filter(inside);
  const zeros = all.filter(({ stand }) => stand === "zero");
  const [one, other] = zeros.length > 2 ? [zeros[0]!, zeros[2]!] : all.length > 1 ? [all[0]!, all.at(-1)!] : [null, null];
  if (one && other) return [{ channel, ...one }, { channel, ...other }];
  const at = (share: number): Point => snapped(trace, channel, trace.from_s + share * trace.span_s, 0);
  return [at(0.25), at(0.75)];
}

/** The same moment on the line before or after, in the order of the drawing. */
export function onOtherLine(trace: KeptTrace, point: Point, down: boolean): Point {
  const channels = trace.lines.map(({ channel }) => channel).filter((channel) => channel !== undefined);
  const at = channels.indexOf(point.channel) + (down ? 1 : -1);
  const channel = channels[(at + channels.length) % channels.length] ?? point.channel;
  return point.stand === "free" ? freed(trace, channel, point.at_s) : snapped(trace, channel, point.at_s, 0);
}
