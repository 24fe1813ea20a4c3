/** Thinning is held against a slow search over the same columns. */
import { describe, expect, it } from "vitest";
import { type Columns, crossing, reach, repeats, thin } from "./columns";

/** A seeded stream of numbers in [0, 1): Park and Miller 1988, minimal standard generator. */
function luck(seed: number): () => number {
  let state = seed;
  return () => (state = (state * 48271) % 2147483647) / 2147483647;
}

function noise(count: number, seed: number): Columns {
  const next = luck(seed);
  const low = Float32Array.from({ length: count }, () => next() * 2 - 1.5);
  return { low, high: low.map((value) => value + next()) };
}

describe("thin", () => {
  it("leaves few enough columns as they are", () => {
    const columns = noise(10, 1);
    expect(thin(columns, 10)).toBe(columns);
  });

  it.each([2, 3, 7, 100, 599])("keeps lowest and highest of every group, for %i columns of 600", (count) => {
    const columns = noise(600, count);
    const thinned = thin(columns, count);
    for (let c = 0; c < count; c++) {
      const group = [...columns.low.keys()].filter((k) => Math.floor((k * count) / 600) === c);
      expect(thinned.low[c]).toBe(Math.min(...group.map((k) => columns.low[k]!)));
      expect(thinned.high[c]).toBe(Math.max(...group.map((k) => columns.high[k]!)));
    }
  });

  it("passes over what has no value, and gives none where there is none at all", () => {
    const low = Float32Array.of(NaN, 2, NaN, NaN);
    expect([...thin({ low, high: low }, 2).low]).toEqual([2, NaN]);
  });
});

it("finds how far a line reaches to either side", () => {
  expect(reach({ low: Float32Array.of(-3, NaN), high: Float32Array.of(2, NaN) })).toBe(3);
  expect(reach({ low: Float32Array.of(NaN), high: Float32Array.of(NaN) })).toBe(0);
});

describe("crossing", () => {
  const sine = Float32Array.from({ length: 300 }, (_, k) => Math.sin((2 * Math.PI * k) / 100));
  const columns = { low: sine, high: sine };

  it("finds half of the peak of a sine at 30 degrees rising and 150 degrees falling", () => {
    expect(crossing(columns, 0.5, true, 90)).toBe(109); // 100 + 30/360 of 100, the next column
    expect(crossing(columns, 0.5, false, 90)).toBe(142);
  });

  it("says -1 where the level is never reached", () => {
    expect(crossing(columns, 1.5, true, 0)).toBe(-1);
  });
});

describe("repeats", () => {
  const sine = (most: (k: number) => number): Columns => {
    const low = Float32Array.from({ length: 600 }, (_, k) => most(k) * Math.sin((6 * Math.PI * k) / 600));
    return { low, high: low };
  };

  it("is so for a wave that goes on, also with a little more in each cycle", () => {
    expect(repeats(sine(() => 325), 3)).toBe(true);
    expect(repeats(sine((k) => 1 + k / 1200), 3)).toBe(true);
  });

  it("is not so where the supply went or came within the picture", () => {
    expect(repeats(sine((k) => (k < 400 ? 1 : 0)), 3)).toBe(false);
    expect(repeats(sine((k) => (k < 200 ? 0 : 1)), 3)).toBe(false);
    expect(repeats(sine(() => 0), 3)).toBe(false);
  });
});
