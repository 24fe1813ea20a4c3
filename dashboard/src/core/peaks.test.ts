/** Peaks at the axis: no figure twice, no sign for nothing. */
import { expect, it } from "vitest";
import { largest, signed, spanWords } from "./peaks";

const words = (low: number, high: number, unit = "A"): string => spanWords({ peak: [low, high], least: 0, unit }).replace(/\u00a0/g, " ");

it("says once what is the same at both ends", () => {
  expect(words(36.057, 36.063, "V")).toBe("+36.1 V");
  expect(words(-325.6, 325.4, "V")).toBe("±326 V");
  expect(words(-0.783, 0.789)).toBe("±0.79 A");
});

it("says both ends where they differ", () => {
  expect(words(-0.496, 9.602)).toBe("−0.50 to +9.60 A");
  expect(words(-0.134, -0.037, "V")).toBe("−0.13 to −0.037 V");
});

it("has figures for noise, and no sign before zero", () => {
  expect(words(-0.0031, 0.0034)).toBe("−0.003 to +0.003 A");
  expect([0, 0.0001, -0.0001].map((value) => signed(value, "A"))).toEqual(["0\u00a0A", "0\u00a0A", "0\u00a0A"]);
});

it("says below what a line is whose channel cannot tell it from nothing", () => {
  const line = (peak: readonly [number, number]) => ({ peak, least: 0.0293, unit: "A" });
  expect([spanWords(line([-0.011, 0.004])), largest(line([-0.011, 0.004]))]).toEqual(["<\u00a00.03\u00a0A", "<\u00a00.03\u00a0A"]);
  expect(largest(line([-0.011, 0.041]))).toBe("+0.041\u00a0A");
});

it("says one figure where there is room for no more", () => {
  const figure = (low: number, high: number): string => largest({ peak: [low, high], least: 0, unit: "A" }).replace("\u00a0", " ");
  expect(figure(-1.64, 1.7)).toBe("±1.70 A");
  expect(figure(-30.1, -29.8)).toBe("−30.1 A");
  expect(figure(-0.5, 9.6)).toBe("+9.60 A");
  expect(figure(0, 0)).toBe("0 A");
});
