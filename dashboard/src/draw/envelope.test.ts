/** The one path of a trace: what it must touch is found here by following it. */
import { describe, expect, it } from "vitest";
import { below, envelope, polyline } from "./envelope";

type Step = readonly ["M" | "L", number, number];

function recorder(): { path: CanvasPath; steps: Step[]; rects: number[][] } {
  const steps: Step[] = [];
  const rects: number[][] = [];
  const path = {
    moveTo: (x: number, y: number) => steps.push(["M", x, y]),
    lineTo: (x: number, y: number) => steps.push(["L", x, y]),
    rect: (...box: number[]) => rects.push(box),
  } as unknown as CanvasPath;
  return { path, steps, rects };
}

const PLACE = { x0: -0.5, dx: 1, y0: 0, ky: -1 }; // y is the value, x the column

function drawn(low: number[], high: number[]): Step[] {
  const { path, steps } = recorder();
  envelope(path, { low: Float32Array.from(low), high: Float32Array.from(high) }, PLACE);
  return steps;
}

describe("envelope", () => {
  it("is one point a column on a slope, so that slopes are smooth", () => {
    expect(drawn([0, 1, 2], [1, 2, 3]).filter(([kind]) => kind === "L")).toHaveLength(3);
  });

  it("reaches the lowest and the highest of every column", () => {
    let state = 7;
    const luck = (): number => (state = (state * 48271) % 2147483647) / 2147483647;
    const low = Array.from({ length: 500 }, () => Math.fround(luck() * 4 - 2));
    const high = low.map((value) => Math.fround(value + luck() * 2));
    const steps = drawn(low, high);
    for (let k = 1; k < low.length; k++) {
      const touched = steps.filter(([, x]) => x === k || x === k - 1).map(([, , y]) => y); // the stroke that leads here too
      expect(Math.min(...touched)).toBeLessThanOrEqual(low[k]!);
      expect(Math.max(...touched)).toBeGreaterThanOrEqual(high[k]!);
    }
  });

  it("is drawn nowhere beyond the data", () => {
    const ys = drawn([0, -1, 0.5], [1, 2, 0.75]).map(([, , y]) => y);
    expect([Math.min(...ys), Math.max(...ys)]).toEqual([-1, 2]);
  });

  it("never crosses a gap", () => {
    const steps = drawn([0, 1, NaN, NaN, 4, 5], [0, 1, NaN, NaN, 4, 5]);
    expect(steps.map(([kind, x]) => `${kind}${x}`)).toEqual(["M0", "L1", "M4", "L5"]);
  });
});

it("hatches only what is below zero", () => {
  const { path, rects } = recorder();
  below(path, { low: Float32Array.of(-2, 1, -4), high: Float32Array.of(-2, 3, 2) }, { x0: 0, dx: 1, y0: 10, ky: 1 });
  expect(rects.map(([x, y, , height]) => [x, y, height])).toEqual([[0, 10, 2], [2, 10, 1]]);
});

it("draws half-cycle values as steps and leaves gaps open", () => {
  const { path, steps } = recorder();
  polyline(path, Float32Array.of(0, 1, 2, 3), Float32Array.of(5, 7, NaN, 2), (t) => t, (value) => value, true);
  expect(steps).toEqual([["M", 0, 5], ["L", 1, 5], ["L", 1, 7], ["M", 3, 2]]);
});
