/** Expected forms are those of ISO 80000-1 as the page uses it: thin space for thousands, point, real minus (from memory). */
import { describe, expect, it } from "vitest";
import { age, below, clock, duration, number, rough, slipDigits, stretch, symbolParts, typeset, withUnit } from "./format";

describe("number", () => {
  it.each([
    [2975, 0, "2\u2009975"],
    [1234567.891, 1, "1\u2009234\u2009567.9"],
    [-14.2, 1, "\u221214.2"],
    [0.8341, 2, "0.83"],
    [999, 0, "999"],
    [1000.0001, 4, "1\u2009000.0001"],
  ])("writes %f with %i decimals as %s", (value, digits, text) => {
    expect(number(value, digits)).toBe(text);
  });

  it("gives no sign to what rounds to zero", () => {
    expect(number(-0.004, 2)).toBe("0.00");
    expect(number(-0, 0)).toBe("0");
  });

  it("writes a dash for what is no number", () => {
    expect(number(NaN, 1)).toBe("–");
    expect(number(Infinity, 1)).toBe("–");
  });
});

describe("what is too small to be told", () => {
  it.each([[0.0193, "0.02"], [0.02, "0.02"], [0.0231, "0.024"], [4.6, "4.6"], [0.96, "0.96"], [12.01, "13"], [0.0043, "0.005"], [0.00048, "0.001"]])(
    "is below %f, rounded up to two figures and three decimals: %s", (least, text) => {
      expect(below(least, "A")).toBe(`<\u00a0${text}\u00a0A`);
    });

  it("has no more decimals than its quantity", () => {
    expect([0.00061, 0.15].map((least) => below(least, "W", 1))).toEqual(["<\u00a00.1\u00a0W", "<\u00a00.2\u00a0W"]);
  });
});

describe("slip", () => {
  it.each([[0.0801, "8.01"], [0.09996, "10.0"], [0.9921, "99.2"], [0.9996, "100"], [1, "100"], [1.934, "193"], [-0.0123, "\u22121.23"], [-0.9921, "\u221299.2"]])(
    "of %f has three figures at most: %s", (slip, text) => {
      expect(number(100 * slip, slipDigits(100 * slip, false))).toBe(text);
    });

  it("has one decimal at most while the motor starts", () => {
    expect([0.0523, 0.9921, 1].map((slip) => number(100 * slip, slipDigits(100 * slip, true)))).toEqual(["5.2", "99.2", "100"]);
  });
});

describe("unit", () => {
  it("never stands behind a dash and never parts from its number", () => {
    expect(withUnit("–", "A")).toBe("–");
    expect(withUnit("2.02", "A")).toBe("2.02\u00a0A");
  });

  it("sets the degree close, and leaves a bare ratio bare", () => {
    expect(withUnit("73.0", "°")).toBe("73.0°");
    expect(withUnit("0.976", "")).toBe("0.976");
  });

  it("gives about three digits to peaks and ranges", () => {
    const written = [325.27, 99.97, 27.85, 9.998, 3.233, 0.134, 0.037, 0.0002, 0].map((value) => rough(value, "A").replace("\u00a0", " "));
    expect(written).toEqual(["325 A", "100 A", "27.9 A", "10.0 A", "3.23 A", "0.13 A", "0.037 A", "0 A", "0 A"]);
  });
});

describe("time", () => {
  it.each([
    [842, "14\u00a0min 02\u00a0s"],
    [37_200, "10\u00a0h 20\u00a0min"],
    [0.48, "0.48\u00a0s"],
    [59.6, "1\u00a0min 00\u00a0s"],
    [7, "7\u00a0s"],
  ])("says %f s as %s", (seconds, text) => {
    expect(duration(seconds)).toBe(text);
  });

  it("says an age in ms, then s, then as a duration, and never below what a page can know", () => {
    expect([0.001, 0.02, 2.44, 75, -1].map(age)).toEqual(["<\u00a010\u00a0ms", "20\u00a0ms", "2.4\u00a0s", "1\u00a0min 15\u00a0s", "<\u00a010\u00a0ms"]);
  });

  it("says a short stretch to the millisecond", () => {
    expect([0.013, 0.0025, 1.2].map(stretch)).toEqual(["13\u00a0ms", "2.5\u00a0ms", "1.2\u00a0s"]);
  });

  it("cuts the time of day, so that a moment is never told before it came", () => {
    const noon = new Date(2026, 10, 25, 14, 16, 9, 960).getTime() / 1000;
    expect(clock(noon)).toBe("14:16:09");
    expect(clock(noon, true)).toBe("14:16:09.9");
  });
});

it("parts a symbol from its low index", () => {
  expect(symbolParts("cos φ_1")).toEqual(["cos φ", "1"]);
  expect(symbolParts("P")).toEqual(["P", ""]);
});

describe("sentences of the service", () => {
  it("get thin spaces, a real minus and units that stay with their figures", () => {
    expect(typeset("95 % of 1380 r/min")).toBe("95\u00a0% of 1\u2009380\u00a0r/min");
    expect(typeset("-100 r/min")).toBe("\u2212100\u00a0r/min");
    expect(typeset("-0.17 ± 0.13 degrees from 1568 edges")).toBe("\u22120.17\u00a0± 0.13\u00a0degrees from 1\u2009568\u00a0edges");
    expect(typeset("Current rose from 0.554 A to 1.28 A")).toBe("Current rose from 0.554\u00a0A to 1.28\u00a0A");
  });
  it("keep times of day and names", () => {
    expect(typeset("no samples since 14:16:09 here")).toBe("no samples since 14:16:09 here");
    expect(typeset("heron-2 stopped")).toBe("heron-2 stopped");
  });
});
