/** Leaders of the strip: few, none on another, none outside. */
import { describe, expect, it } from "vitest";
import type { Happened, Strip } from "../core/picture";
import { placeLeaders, speedAt } from "./strip_leaders";
import { stripLayout } from "./strip_layout";

const STRIP: Strip = {
  start_utc_s: 1000, wide_s: 1.5, end_s: 100,
  wide: { t: Float32Array.of(0, 0.5, 1, 1.4), speed: Float32Array.of(0, 900, 1380, 1380), current: Float32Array.of(1.2, 1.1, 0.55, 0.55) },
  rest: {
    t: Float32Array.of(2, 50, 100), speed_low: Float32Array.of(1380, 1380, 1380), speed_high: Float32Array.of(1380, 1380, 1380),
    current_low: Float32Array.of(0.55, 0.55, 0.55), current_high: Float32Array.of(0.55, 0.55, 0.55),
  },
  synchronous_speed_rpm: 1500, states: [], gaps: [],
};
const LAYOUT = stripLayout(STRIP, { up: 1600, down: 0, ampere: 1.5 }, { width: 900, height: 212, slim: false });

function event(text: string, at_s: number, decisive = false): Happened {
  return { kind: "x", text, detail: "", decisive, utc_s: 1000 + at_s };
}

describe("leaders", () => {
  it("give words to at most five, those that decide something first", () => {
    const events = Array.from({ length: 12 }, (_, k) => event(`event ${k}`, 8 * k, k === 11));
    const placed = placeLeaders(events, STRIP, LAYOUT, false);
    const worded = placed.filter(({ words }) => words);
    expect(placed).toHaveLength(12);
    expect(worded.length).toBeLessThanOrEqual(5);
    expect(worded[0]!.event.text).toBe("event 11");
  });

  it("never put words on words or outside the drawing", () => {
    const events = Array.from({ length: 5 }, (_, k) => event("Voltage dipped to 208.6 V", 40 + 3 * k));
    const boxes = placeLeaders(events, STRIP, LAYOUT, false).flatMap(({ event: { text }, words }) => {
      const width = text.length * 6.9;
      return words ? [{ x: words.ends ? words.x - width : words.x, y: words.y, width }] : [];
    });
    expect(boxes.length).toBeGreaterThan(0);
    for (const [k, a] of boxes.entries()) {
      expect(a.x).toBeGreaterThanOrEqual(LAYOUT.left);
      expect(a.x + a.width).toBeLessThanOrEqual(LAYOUT.right);
      for (const b of boxes.slice(k + 1)) expect(Math.abs(a.y - b.y) >= 18 || a.x >= b.x + b.width || b.x >= a.x + a.width).toBe(true);
    }
  });

  it("are dots where the words would lie on the speed", () => {
    const t = Float32Array.from({ length: 50 }, (_, k) => 2 + 2 * k);
    const saw = Float32Array.from({ length: 50 }, (_, k) => (k % 2 ? 1380 : 0)); // up and down everywhere
    const rest = { ...STRIP.rest, t, speed_low: saw, speed_high: saw };
    const [placed] = placeLeaders([event("Voltage dipped to 208.6 V", 50)], { ...STRIP, rest }, LAYOUT, false);
    expect(placed!.words).toBeNull();
  });

  it("leave out what happened before this start", () => {
    expect(placeLeaders([event("earlier", -5)], STRIP, LAYOUT, false)).toEqual([]);
  });

  it("stand on the speed of their moment", () => {
    expect([0.6, 1.2, 60].map((t) => speedAt(STRIP, t))).toEqual([900, 1380, 1380]);
  });
});
