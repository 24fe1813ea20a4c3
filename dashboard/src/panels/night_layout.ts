/** Where all of a night stands in its drawing: strips under each other on one time axis, the ribbon and the axis below. Pure. */
import type { Trends, Window } from "../core/night";
import { type Last, type Scale, extent, lastOf, scaleOf } from "../core/night_readings";
import type { Ends } from "../core/night_limits";
import type { Size } from "../draw/drawing";
import { RIBBON } from "../draw/ribbon";

export interface StripPlace {
  readonly id: string;
  readonly top: number;
  readonly height: number;
  readonly scale: Scale;
  readonly y: (value: number) => number;
  readonly reached: readonly [number, number] | null; // null: nothing came
  readonly last: Last | null;
}

export interface NightLayout {
  readonly left: number;
  readonly right: number;
  readonly width: number;
  readonly top: number;
  readonly laneY: number; // of alarms, above the ribbon
  readonly ribbonY: number;
  readonly axisY: number;
  readonly slim: boolean;
  readonly strips: readonly StripPlace[];
  readonly seen: Window;
  readonly x: (utc_s: number) => number;
  readonly utc: (x: number) => number;
}

const TOP = 6;
export const LANE = 14; // of alarms
const FOOT = LANE + RIBBON + 38; // alarms, ribbon, axis and its words
const TALL = [[4, 96], [6, 80], [12, 64], [Infinity, 48]] as const; // of many strips each is lower
const SLIM_HEAD = 22; // the name stands above the line
const NAMES = 132;
const FIGURES = 108;

export function stripHeight(count: number): number {
  return TALL.find(([most]) => count <= most)![1];
}

export function nightHeight(count: number, slim: boolean): number {
  return TOP + Math.max(count, 1) * (stripHeight(count) + (slim ? SLIM_HEAD / 2 : 0)) + FOOT;
}

/** How many columns to ask for: the service gives up to twice as many, and of more than there are pixels none is seen. */
export function columnsOf({ width, slim }: Size): number {
  return (width - (slim ? 12 : NAMES + FIGURES)) / 2;
}

export function nightLayout(size: Size, seen: Window, ids: readonly string[], trends: Trends | null, limits: { readonly own: Ends; readonly twins: Ends }): NightLayout {
  const { width, height, slim } = size;
  const left = slim ? 6 : NAMES;
  const right = width - (slim ? 6 : FIGURES);
  const laneY = height - FOOT + 6;
  const ribbonY = laneY + LANE + 2;
  const tall = (laneY - 8 - TOP) / Math.max(ids.length, 1);
  const span_s = seen.to_utc_s - seen.from_utc_s;
  const strips = ids.map((id, k): StripPlace => {
    const band = trends?.readings[id];
    const reached = band ? extent(band) : null;
    const scale = scaleOf(reached ?? [0, 1], reached ? [...(limits.own[id] ?? []), ...(limits.twins[id] ?? [])] : []);
    const top = TOP + k * tall;
    const [head, foot] = [slim ? SLIM_HEAD : tall * 0.14, tall * 0.14];
    const y = (value: number): number => top + head + (tall - head - foot) * (1 - (value - scale.low) / (scale.high - scale.low));
    return { id, top, height: tall, scale, y, reached, last: band ? lastOf(band) : null };
  });
  return {
    left, right, width, top: TOP, laneY, ribbonY, axisY: ribbonY + RIBBON + 6, slim, strips, seen,
    x: (utc_s) => left + ((utc_s - seen.from_utc_s) / span_s) * (right - left),
    utc: (x) => seen.from_utc_s + ((x - left) / (right - left)) * span_s,
  };
}

export interface Label {
  readonly y: number;
  readonly text: string;
}

/** Labels beside a strip, none over another: those that come first stay, the others give way, the nearest place first. */
export function spread(labels: readonly Label[], least: number, [top, foot]: readonly [number, number]): number[] {
  const placed: number[] = [];
  for (const { y } of labels) {
    const free = (at: number): boolean => placed.every((other) => Math.abs(other - at) >= least);
    const tries = Array.from({ length: 12 }, (_, k) => y + (k % 2 ? 1 : -1) * Math.ceil(k / 2) * (least / 2));
    placed.push(tries.find((at) => free(at) && at >= top && at <= foot) ?? tries.find(free) ?? y);
  }
  return placed;
}

export interface Placed<T> {
  readonly item: T;
  readonly x: number;
  readonly ends: boolean; // the words end at their place
}

/** Words along a line, each with the width that it needs: right of its place or left of it; what has no room, beside what is `kept` too, has no words. */
export function placedAlong<T>(items: readonly T[], xOf: (item: T) => number, widthOf: (item: T) => number, [left, right]: readonly [number, number], kept: readonly (readonly [number, number])[] = []): Placed<T>[] {
  const taken = [...kept];
  const found: Placed<T>[] = [];
  for (const item of items) {
    const [x, width] = [xOf(item), widthOf(item) + 22];
    for (const ends of [x > (left + right) / 2, x <= (left + right) / 2]) {
      const [from, to] = ends ? [x - width, x + 6] : [x - 6, x + width];
      if (from < left || to > right || taken.some(([start, end]) => from < end && to > start)) continue;
      taken.push([from, to]);
      found.push({ item, x, ends });
      break;
    }
  }
  return found;
}
