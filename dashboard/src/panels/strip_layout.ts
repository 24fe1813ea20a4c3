/** Where things lie in the strip since the start: two stretches of time on one line, two heights. Pure geometry. */
import { RIBBON } from "../draw/ribbon";
import type { Strip } from "../core/picture";
import { SteadyScale } from "../core/steady";
import type { Size } from "../draw/drawing";

const BETWEEN = 16; // the double rule between the first seconds and the rest

export interface StripLayout {
  readonly left: number;
  readonly right: number;
  readonly split: number;
  readonly top: number;
  readonly x: (t: number) => number;
  readonly speedY: (rpm: number) => number;
  readonly currentY: (a: number) => number;
  readonly currentTop: number; // above it no current is drawn
  readonly ribbonY: number;
  readonly axisY: number;
}


export function stripHeight(width: number): number {
  return width < 560 ? 344 : 228;
}

/** How far both lines went since the start. */
export interface Reached {
  readonly highest_rpm: number; // 0 or above
  readonly lowest_rpm: number; // 0 or below
  readonly highest_a: number;
}

export function reached({ wide, rest }: Strip): Reached {
  const speeds = [wide.speed, rest.speed_low, rest.speed_high];
  return {
    highest_rpm: Math.max(...speeds.map(largest)),
    lowest_rpm: 0 - Math.max(...speeds.map((each) => largest(each.map((value) => -value)))),
    highest_a: Math.max(largest(wide.current), largest(rest.current_high)),
  };
}

/** Ends of both scales, kept still. */
export class StripScales {
  private readonly up = new SteadyScale();
  private readonly down = new SteadyScale();
  private readonly ampere = new SteadyScale();

  ends(strip: Strip, now_ms: number): { up: number; down: number; ampere: number } {
    const { highest_rpm, lowest_rpm, highest_a } = reached(strip);
    const highest = Math.max(highest_rpm, strip.synchronous_speed_rpm ?? 0);
    const down = -lowest_rpm > 0.02 * highest ? this.down.take(-lowest_rpm, now_ms) : 0;
    return { up: this.up.take(highest, now_ms), down, ampere: this.ampere.take(highest_a, now_ms) };
  }
}

function largest(values: Float32Array): number {
  let most = 0;
  for (const value of values) if (value > most) most = value;
  return most;
}

export function stripLayout(strip: Strip, ends: { up: number; down: number; ampere: number }, { width, height, slim }: Size): StripLayout {
  const [left, right] = slim ? [6, width - 6] : [78, width - 88];
  const split = left + (right - left) * (slim ? 0.6 : 0.52);
  const ribbonY = height - 26 - RIBBON;
  const [top, currentFoot] = [slim ? 44 : 24, ribbonY - 8]; // a narrow drawing writes a line above each of both
  const middle = top + (currentFoot - top) * 0.58;
  const currentTop = middle + (slim ? 30 : 12);
  const ky = (middle - top) / (ends.up + ends.down);
  const ka = (currentFoot - currentTop) / ends.ampere;
  const wide = (split - BETWEEN / 2 - left) / strip.wide_s;
  const restLength = Math.max(strip.end_s - strip.wide_s, 1e-3);
  const rest = (right - split - BETWEEN / 2) / restLength;
  return {
    left,
    right,
    split,
    top,
    x: (t) => (t <= strip.wide_s ? left + Math.max(0, t) * wide : split + BETWEEN / 2 + Math.min(t - strip.wide_s, restLength) * rest),
    speedY: (rpm) => middle - (rpm + ends.down) * ky,
    currentY: (a) => currentFoot - a * ka,
    currentTop,
    ribbonY,
    axisY: height - 20,
  };
}
