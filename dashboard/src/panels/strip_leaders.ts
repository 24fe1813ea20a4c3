/**
 * Which events get words in the strip: at most five, those that decide something first; the rest are
 * dots. A word that would stand on another one, or outside, becomes a dot too. Pure.
 */
import type { Happened, Strip } from "../core/picture";
import type { StripLayout } from "./strip_layout";

const MOST = 5;
const CHARACTER = 6.9; // mean width of a character of 14 px, pixels
const LINE = 18;

export interface Placed {
  readonly event: Happened;
  readonly x: number;
  readonly y: number;
  readonly words: { readonly x: number; readonly y: number; readonly ends: boolean } | null; // null: a dot; `ends`: the words end at x
}

interface Point {
  readonly x: number;
  readonly y: number;
}

/** Words and where their leader begins. */
interface Box extends Point {
  readonly width: number;
  readonly from: Point;
}

export function placeLeaders(events: readonly Happened[], strip: Strip, layout: StripLayout, slim: boolean): Placed[] {
  const here = events.filter((event) => event.utc_s >= strip.start_utc_s && event.utc_s <= strip.start_utc_s + strip.end_s);
  const ranked = [...here].sort((a, b) => Number(b.decisive) - Number(a.decisive) || a.utc_s - b.utc_s);
  const taken: Box[] = strip.synchronous_speed_rpm === null ? [] : [limitBox(strip.synchronous_speed_rpm, layout)];
  let left = slim ? 2 : MOST;
  return ranked.map((event) => {
    const t = event.utc_s - strip.start_utc_s;
    const [x, y] = [layout.x(t), layout.speedY(speedAt(strip, t))];
    const box = left > 0 ? freeBox(event.text.length * CHARACTER, { x, y }, strip, layout, taken) : null;
    if (!box) return { event, x, y, words: null };
    left--;
    taken.push(box);
    const ends = box.x < x;
    return { event, x, y, words: { x: ends ? box.x + box.width : box.x, y: box.y, ends } };
  });
}

function freeBox(width: number, from: Point, strip: Strip, layout: StripLayout, taken: readonly Box[]): Box | null {
  const { x, y } = from;
  const [top, foot] = [layout.top + 14, layout.speedY(0) - 6];
  const heights = [y + 29, y + 47, y - 14, y + 65, y - 34].filter((at) => at >= top && at <= foot);
  const tries = heights.flatMap((at) => [22, 44].flatMap((by) => [{ x: x + by, y: at, width, from }, { x: x - by - width, y: at, width, from }]));
  const inside = (box: Box): boolean => {
    const end = box.x + box.width;
    const onRule = box.x < layout.split + 6 && end > layout.split - 6;
    return box.x >= layout.left && end <= layout.right && !onRule;
  };
  const free = (box: Box): boolean =>
    taken.every((other) => apart(box, other) && !cross(box, other));
  return tries.find((box) => inside(box) && free(box) && !onCurve(box, strip, layout)) ?? null;
}

/** Where the name of the limit is written. */
function limitBox(rpm: number, layout: StripLayout): Box {
  const [x, y] = [layout.left, layout.speedY(rpm) - 6];
  return { x, y, width: 96, from: { x, y } };
}

/** Whether the speed runs through the words. */
function onCurve(box: Box, strip: Strip, layout: StripLayout): boolean {
  const within = (low: number, high: number, from: number, to: number): boolean => Math.max(low, from) <= Math.min(high, to);
  const hits = (t: Float32Array, speed: Float32Array): boolean =>
    t.some((at, k) => {
      const before = Math.max(0, k - 1);
      const [x0, x1] = [layout.x(t[before]!), layout.x(at)];
      const [y0, y1] = [layout.speedY(speed[before]!), layout.speedY(speed[k]!)];
      return within(x0, x1, box.x - 4, box.x + box.width + 4) && within(Math.min(y0, y1), Math.max(y0, y1), box.y - 16, box.y + 7);
    });
  const { wide, rest } = strip;
  return hits(wide.t, wide.speed) || hits(rest.t, rest.speed_high) || hits(rest.t, rest.speed_low);
}

function apart(a: Box, b: Box): boolean {
  return Math.abs(a.y - b.y) >= LINE || a.x > b.x + b.width + 8 || b.x > a.x + a.width + 8;
}

/** The end of a leader, at the words. */
function end(box: Box): Point {
  return { x: box.x > box.from.x ? box.x - 4 : box.x + box.width + 4, y: box.y - 5 };
}

/** Whether two leaders cross, or one runs through the other's words. */
function cross(a: Box, b: Box): boolean {
  const through = (one: Box, other: Box): boolean =>
    meet(one.from, end(one), { x: other.x, y: other.y - 6 }, { x: other.x + other.width, y: other.y - 6 });
  return meet(a.from, end(a), b.from, end(b)) || through(a, b) || through(b, a);
}

function meet(a: Point, b: Point, c: Point, d: Point): boolean {
  const side = (p: Point, q: Point, r: Point): number => Math.sign((q.x - p.x) * (r.y - p.y) - (q.y - p.y) * (r.x - p.x));
  return side(a, b, c) !== side(a, b, d) && side(c, d, a) !== side(c, d, b);
}

/** Speed at a moment; 0 where it is not known. */
export function speedAt(strip: Strip, t: number): number {
  const [times, speeds] = t <= strip.wide_s ? [strip.wide.t, strip.wide.speed] : [strip.rest.t, strip.rest.speed_high];
  let k = 0;
  while (k < times.length - 1 && times[k + 1]! <= t) k++;
  const speed = speeds[k];
  return speed === undefined || Number.isNaN(speed) ? 0 : speed;
}
