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
  readonly words: { readonly x: number; readonly y: number; readonly left: boolean } | null; // null: a dot
}

interface Box {
  readonly x: number;
  readonly y: number;
  readonly width: number;
}

export function placeLeaders(events: readonly Happened[], strip: Strip, layout: StripLayout, slim: boolean): Placed[] {
  const here = events.filter((event) => event.utc_s >= strip.start_utc_s && event.utc_s <= strip.start_utc_s + strip.end_s);
  const ranked = [...here].sort((a, b) => Number(b.decisive) - Number(a.decisive) || a.utc_s - b.utc_s);
  const taken: Box[] = [];
  let left = slim ? 2 : MOST;
  return ranked.map((event) => {
    const t = event.utc_s - strip.start_utc_s;
    const [x, y] = [layout.x(t), layout.speedY(speedAt(strip, t))];
    const box = left > 0 ? freeBox(event.text.length * CHARACTER, x, y, layout, taken) : null;
    if (!box) return { event, x, y, words: null };
    left--;
    taken.push(box);
    return { event, x, y, words: { x: box.x, y: box.y, left: box.x > x } };
  });
}

function freeBox(width: number, x: number, y: number, layout: StripLayout, taken: readonly Box[]): Box | null {
  const [top, foot] = [layout.top + 14, layout.speedY(0) - 6];
  const heights = [y + 29, y + 47, y - 14, y + 65].filter((at) => at >= top && at <= foot);
  const tries = heights.flatMap((at) => [{ x: x + 22, y: at, width }, { x: x - 22 - width, y: at, width }]);
  const inside = (box: Box): boolean => box.x >= layout.left && box.x + box.width <= layout.right;
  const free = (box: Box): boolean =>
    taken.every((other) => Math.abs(other.y - box.y) >= LINE || box.x > other.x + other.width + 8 || other.x > box.x + box.width + 8);
  return tries.find((box) => inside(box) && free(box)) ?? null;
}

/** Speed at a moment; 0 where it is not known. */
export function speedAt(strip: Strip, t: number): number {
  const [times, speeds] = t <= strip.wide_s ? [strip.wide.t, strip.wide.speed] : [strip.rest.t, strip.rest.speed_high];
  let k = 0;
  while (k < times.length - 1 && times[k + 1]! <= t) k++;
  const speed = speeds[k];
  return speed === undefined || Number.isNaN(speed) ? 0 : speed;
}
