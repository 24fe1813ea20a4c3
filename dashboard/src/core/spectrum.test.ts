import { expect, test } from "vitest";
import { type Mark, decades, decibels, heightOn, placeMarks } from "./spectrum";

const mark = (hz: number, sign: string, stands_out = true): Mark => ({ hz, sign, name: "", source: "", rms: 1, stands_out });

test("the scale spans five decades below the highest line", () => {
  expect(decades(2.02)).toEqual([-4, -3, -2, -1, 0, 1]);
  expect(decades(10)).toEqual([-4, -3, -2, -1, 0, 1]);
  expect(decades(0)).toEqual([-5, -4, -3, -2, -1, 0]);
});

test("a tenth of a value stands one decade lower, and nothing at the foot", () => {
  const scale = decades(1);
  expect(heightOn(scale, 1)).toBe(1);
  expect(heightOn(scale, 0.1)).toBeCloseTo(0.8);
  expect(heightOn(scale, 0)).toBe(0);
  expect(heightOn(scale, 1e-9)).toBe(0);
});

test("decibels are of the fundamental: a thousandth is -60", () => {
  expect(decibels(0.002, 2)).toBeCloseTo(-60);
  expect(decibels(0.002, null)).toBeNull();
  expect(decibels(0, 2)).toBeNull();
});

test("words of marks never stand on each other, and what stands out comes first", () => {
  const marks = [mark(47, "(1 - 2s) f", false), mark(50, "f"), mark(53, "(1 + 2s) f"), mark(629, "R n - f")];
  const placed = placeMarks(marks, (hz) => 50 + hz, 50, 1050, 2);
  const written = placed.filter((each) => each.row !== null);
  for (const one of written) {
    for (const other of written) {
      if (one === other || one.row !== other.row) continue;
      const ends = (each: typeof one): number => each.at + each.mark.sign.length * 7.4;
      expect(one.at > ends(other) || other.at > ends(one)).toBe(true);
    }
  }
  expect(placed.find((each) => each.mark.sign === "(1 - 2s) f")!.row).toBeNull();
  expect(written.map((each) => each.mark.sign).sort()).toEqual(["(1 + 2s) f", "R n - f", "f"]);
});

test("words that would stand outside are moved inside", () => {
  const [left, right] = placeMarks([mark(0, "one turn"), mark(1000, "R n + f")], (hz) => hz, 0, 1000, 1);
  expect(left!.at).toBe(0);
  expect(right!.at).toBeLessThan(1000 - 7 * 7);
});
