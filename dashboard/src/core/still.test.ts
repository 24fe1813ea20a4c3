/** What keeps the drawings still: scales, ticks, rows. */
import { describe, expect, it } from "vitest";
import { rowsOf } from "./rows";
import { SteadyScale } from "./steady";
import { testLine, testPicture } from "./testing";
import { roundStep, ticks, timeUnit } from "./ticks";

describe("scale", () => {
  it("always holds the data and stands still while it swings a little", () => {
    const scale = new SteadyScale();
    const ends = [0.8, 0.81, 0.79, 0.8].map((peak, k) => scale.take(peak, k * 33));
    expect(new Set(ends).size).toBe(1);
    expect(ends[0]).toBeGreaterThan(0.81);
  });

  it("grows at once, so that an inrush is not cut off", () => {
    const scale = new SteadyScale();
    scale.take(0.8, 0);
    expect(scale.take(1.9, 33)).toBeGreaterThan(1.9);
  });

  it("shrinks only after four seconds of small data, to the largest of them", () => {
    const scale = new SteadyScale();
    const big = scale.take(1.9, 0);
    expect(scale.take(0.3, 100)).toBe(big);
    expect(scale.take(0.8, 1500)).toBe(big);
    expect(scale.take(0.3, 4000)).toBe(big);
    const end = scale.take(0.3, 4200);
    expect(end).toBeGreaterThan(0.8);
    expect(end).toBeLessThan(1.1);
  });

  it("steps seldom while a start makes the current swell, and takes back once what was too much", () => {
    const scale = new SteadyScale(undefined, 1.5);
    const swell = Array.from({ length: 300 }, (_, k) => scale.take(0.2 * 8 ** (Math.min(k, 60) / 60), k * 33)); // 0.2 to 1.6 in 2 s, then 8 s of 1.6
    const steps = swell.filter((end, k) => k > 0 && end !== swell[k - 1]);
    expect(steps.length).toBeLessThanOrEqual(7);
    expect(new Set(swell.slice(61, 180)).size).toBe(1);
    expect(new Set(swell.slice(185)).size).toBe(1);
    expect(swell[299]).toBeLessThan(1.66 * 1.6);
  });

  it("does not shrink when a peak comes in between", () => {
    const scale = new SteadyScale();
    const big = scale.take(1.9, 0);
    scale.take(0.8, 100);
    scale.take(1.85, 1000);
    expect(scale.take(0.8, 4200)).toBe(big);
  });
});

describe("ticks", () => {
  it("stand at round places", () => {
    expect(ticks(60, 8)).toEqual([0, 10, 20, 30, 40, 50, 60]);
    expect(ticks(1.5, 3)).toEqual([0, 0.5, 1, 1.5]);
    expect(ticks(0, 5)).toEqual([]);
  });

  it("step by 1, 2 or 5 times a power of ten", () => {
    expect([0.011, 0.2, 3, 60].map(roundStep)).toEqual([0.02, 0.2, 5, 100]);
  });

  it("are read in the unit of the span", () => {
    expect([0.06, 45, 600, 40_000].map((span) => timeUnit(span)[0])).toEqual(["ms", "s", "min", "h"]);
  });
});

describe("rows", () => {
  const trace = testPicture({}).trace!;

  it("put voltage and current of the supply into the main row", () => {
    const [main] = rowsOf(trace);
    expect([main!.name, main!.voltage!.name, main!.current!.name]).toEqual(["", "U", "I"]);
  });

  it("give every other place a row of its own", () => {
    const phases = ["U", "V", "W"].map((place) => testLine({ role: "current", place, name: `I ${place}` }));
    expect(rowsOf({ ...trace, lines: [...trace.lines, ...phases] }).map((row) => row.name)).toEqual(["", "phase U", "phase V", "phase W"]);
  });

  it("rank three lines equally where there is no supply line", () => {
    const lines = ["L1", "L2", "L3"].flatMap((place) => [testLine({ place }), testLine({ role: "current", place })]);
    const rows = rowsOf({ ...trace, lines });
    expect(rows.map((row) => row.name)).toEqual(["L1", "L2", "L3"]);
    expect(rows.every((row) => row.voltage && row.current)).toBe(true);
  });
});
