/** Where points come to stand. */
import { describe, expect, it } from "vitest";
import type { KeptLine, KeptTrace } from "./kept";
import { keptTraceFrom } from "./kept";
import { type Point, firstPoints, freed, moved, onOtherLine, snapped, valueAt } from "./points";
import { testLine } from "./testing";

const STEP_S = 0.0001;

/** 50 Hz from 10 ms on for 60 ms; the second line is 30° behind. */
function line(channel: number, lag_s: number, samples = true): KeptLine {
  const wave = (t: number): number => 325 * Math.sin(2 * Math.PI * 50 * (t - lag_s));
  const times = Array.from({ length: 601 }, (_, k) => 0.01 + k * STEP_S);
  const between = (first: number, step: number): number[] => Array.from({ length: 8 }, (_, k) => first + k * step).filter((t) => t > 0.0101 && t < 0.0699);
  return {
    ...testLine(), channel,
    zeros_s: between(0.01 + lag_s, 0.01),
    peaks: between(0.015 + lag_s, 0.01).map((t) => [t, wave(t)] as const),
    samples: { first_s: 0.01, step_s: STEP_S, values: samples ? times.map(wave) : [] },
  };
}

function trace(samples = true): KeptTrace {
  return { start_utc_s: 1000.01, from_s: 0.01, span_s: 0.06, cycles: null, turns: null, held_at: "", columns: 60, lines: [line(0, 0, samples), line(4, 0.001667, samples)], power: null, gaps: [], zero_voltage_s: null, zero_current_s: null };
}

describe("a point that is pressed", () => {
  it("snaps to the zero or peak that is near", () => {
    expect(snapped(trace(), 0, 0.0203, 0.0005)).toMatchObject({ at_s: expect.closeTo(0.02, 9), value: 0, stand: "zero" });
    expect(snapped(trace(), 0, 0.0252, 0.0005)).toMatchObject({ at_s: expect.closeTo(0.025, 9), value: expect.closeTo(325), stand: "peak" });
  });

  it("else stands at the nearest sample", () => {
    expect(snapped(trace(), 0, 0.02234, 0.0005)).toMatchObject({ at_s: expect.closeTo(0.0223, 9), stand: "sample" });
  });

  it("is free where samples are too many to be told, and has the value of its column", () => {
    const point = snapped(trace(false), 0, 0.0225, 0.0005);
    expect(point.stand).toBe("free");
    expect(Number.isFinite(point.value)).toBe(true);
  });

  it("stays where it was put once it is freed, on the straight line between samples", () => {
    const point = freed(trace(), 0, 0.02225);
    expect(point.at_s).toBe(0.02225);
    expect(point.value).toBeCloseTo(325 * Math.sin(2 * Math.PI * 50 * 0.02225), 0);
  });
});

describe("a point that is moved by keys", () => {
  const at = (at_s: number, stand: Point["stand"] = "zero", channel = 0): Point => ({ channel, at_s, value: 0, stand });

  it("goes from zero to peak to zero, and stays where there is none any more", () => {
    const [peak, zero] = [moved(trace(), at(0.02), true, false), moved(trace(), at(0.025, "peak"), true, false)];
    expect([peak.stand, zero.stand]).toEqual(["peak", "zero"]);
    expect(zero.at_s).toBeCloseTo(0.03, 9);
    expect(moved(trace(), at(0.03), false, false).at_s).toBeCloseTo(0.025, 9);
    expect(moved(trace(), at(0.068), true, false).at_s).toBe(0.068);
  });

  it("goes finely from a zero between samples to the sample beside it", () => {
    expect(moved(trace(), at(0.02004), true, true).at_s).toBeCloseTo(0.0201, 9);
    expect(moved(trace(), at(0.02004), false, true).at_s).toBeCloseTo(0.02, 9);
    expect(moved(trace(), at(0.02, "sample"), false, true).at_s).toBeCloseTo(0.0199, 9);
  });

  it("goes anywhere once it is free, and never out of the picture", () => {
    expect(moved(trace(), at(0.02, "free"), true, false)).toMatchObject({ at_s: expect.closeTo(0.02012, 9), stand: "free" });
    expect(moved(trace(), at(0.01, "free"), false, false).at_s).toBe(0.01);
  });

  it("goes to another line at the same moment, round and round", () => {
    expect(onOtherLine(trace(), at(0.02), true)).toMatchObject({ channel: 4, at_s: expect.closeTo(0.02, 9), stand: "sample" });
    expect(onOtherLine(trace(), at(0.02, "sample", 4), true)).toMatchObject({ channel: 0, stand: "zero" });
  });
});

describe("two points to begin with", () => {
  it("are a cycle apart", () => {
    const [one, other] = firstPoints(trace())!;
    expect(other.at_s - one.at_s).toBeCloseTo(0.02, 9);
  });

  it("are there without zeros and peaks too, and not without a line to stand on", () => {
    const flat = { ...trace(), lines: [{ ...line(0, 0), zeros_s: [], peaks: [] }] };
    expect(firstPoints(flat)!.map(({ at_s }) => Math.round(at_s * 1e4))).toEqual([250, 550]);
    expect(firstPoints({ ...trace(), lines: [testLine()] })).toBeNull();
  });
});

it("takes null for no value, and tells cycles where they can be told", () => {
  const sent = { ...trace(), lines: [{ ...line(0, 0), low: [null, 1], high: [2, 3] as unknown }] } as unknown as KeptTrace;
  const found = keptTraceFrom(sent);
  expect(found.lines[0]!.low[0]).toBeNaN();
  expect(found.cycles).toBe(2);
  expect(valueAt(found, found.lines[0]!, 0.015)).toBeCloseTo(-325, 6);
});
