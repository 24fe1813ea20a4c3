/** Strips on one axis, labels that give way, words that find room. */
import { expect, it } from "vitest";
import type { Trends } from "../core/night";
import { nightHeight, nightLayout, placedAlong, spread } from "./night_layout";
import { spikes } from "./night_paint";

const seen = { from_utc_s: 1000, to_utc_s: 2000 };
const values = (...all: number[]): Float32Array => Float32Array.from(all);
const band = { low: values(1, 1, NaN, 1), high: values(2, 2, NaN, 2), mean: values(1.5, 1.5, NaN, 1.6), trusted: values(1, 1, 0, 1), bound: "" as const };
const trends = { ...seen, columns: 4, there: [], states: [], runs: [], readings: { a: band, b: band } } as unknown as Trends;

it.each([900, 320])("puts all strips on one axis inside a drawing %s px wide", (width) => {
  const size = { width, height: nightHeight(3, width < 560), slim: width < 560 };
  const layout = nightLayout(size, seen, ["a", "b", "c"], trends, { own: { a: [2.2] }, twins: {} });
  expect(layout.x(1000)).toBe(layout.left);
  expect(layout.x(2000)).toBe(layout.right);
  expect(layout.utc(layout.x(1234))).toBeCloseTo(1234);
  for (const strip of layout.strips) {
    for (const end of [strip.scale.low, strip.scale.high]) {
      expect(strip.y(end)).toBeGreaterThanOrEqual(strip.top);
      expect(strip.y(end)).toBeLessThanOrEqual(strip.top + strip.height);
    }
  }
  expect(layout.strips[2]).toMatchObject({ reached: null, last: null });
  expect(layout.strips[0]!.last).toEqual({ value: expect.closeTo(1.6) as number, doubtful: false, bound: "" });
  expect(layout.axisY + 18).toBeLessThanOrEqual(size.height);
});

it("makes many strips lower, so that forty still can be scrolled through", () => {
  expect(nightHeight(40, false)).toBeLessThan(2000);
  expect(nightHeight(4, false)).toBeGreaterThan(400);
});

it("moves labels that would lie over another, and keeps those that come first", () => {
  const placed = spread([{ y: 50, text: "limit" }, { y: 52, text: "current" }], 17, [0, 100]);
  expect(placed[0]).toBe(50);
  expect(Math.abs(placed[1]! - 50)).toBeGreaterThanOrEqual(17);
});

it("gives words the side on which there is room, and none where there is no room", () => {
  const at = placedAlong([100, 900, 905], (x) => x, () => 80, [0, 1000]);
  expect(at.map(({ item, ends }) => [item, ends])).toEqual([[100, false], [900, true]]);
});

it("finds the one column that reaches further than all beside it", () => {
  const low = values(1, 1, 1, 1, 1, 1);
  expect(spikes({ low, high: values(2, 2, 9, 2, 2, 2) })).toEqual([2]);
  expect(spikes({ low, high: values(2, 2, 2, 2, 2, 2) })).toEqual([]);
});
