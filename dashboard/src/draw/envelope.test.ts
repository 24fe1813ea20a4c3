/** The one path of a trace: what it must touch is found here by following it. */
import { describe, expect, it } from "vitest";
import { below, envelope, polyline } from "./envelope";

type Step = readonly ["M" | "L", number, number];

function recorder(): { path: CanvasPath; steps: Step[]; rects: number[][] } {
  const steps: Step[] = [];
  const rects: number[][] = [];
  const path = {
    moveTo: (x: number, y: number) => steps.push(["M", x, 0 - y]),
    lineTo: (x: number, y: number) => steps.push(["L", x, 0 - y]),
    rect: (...box: number[]) => rects.push(box),
  } as unknown as CanvasPath;
  return { path, steps, rects };
}

const PLACE = { x0: -0.5, dx: 1, y0: 0, ky: 1 }; // y is minus the value, x the column

function drawn(low: number[], high: number[], weight = 0): Step[] {
  const { path, steps } = recorder();
  envelope(path, { low: Float32Array.from(low), high: Float32Array.from(high) }, PLACE, weight);
  return steps;
}

/** Lowest and highest that the path reaches from the middle of column k - 1 to the end of column k. */
function touched(steps: readonly Step[], k: number): [number, number] {
  const ys = steps.slice(1).flatMap(([kind, x1, y1], at) => {
    const [, x0, y0] = steps[at]!;
    if (kind === "M" || x1 < k - 1 || x0 > k + 0.5) return [];
    const on = (x: number): number => (x1 === x0 ? y0 : y0 + ((y1 - y0) * (Math.min(Math.max(x, x0), x1) - x0)) / (x1 - x0));
    return x1 === x0 ? [y0, y1] : [on(k - 1), on(k + 0.5)];
  });
  return [Math.min(...ys), Math.max(...ys)];
}

describe("envelope", () => {
  it("is few strokes on a straight slope, however many columns it takes", () => {
    expect(drawn([0, 1, 2, 3], [1, 2, 3, 4])).toEqual([["M", 0, 0], ["L", 0, 1], ["L", 1.5, 2], ["L", 3.5, 4]]);
  });

  it("passes within a tenth of a pixel of every point that it leaves out of a sine", () => {
    const wave = Array.from({ length: 600 }, (_, k) => 72 * Math.sin((6 * Math.PI * k) / 600));
    const steps = drawn(wave, wave, 3);
    expect(steps.length).toBeLessThan(300);
    for (const [k, value] of wave.entries()) {
      const after = Math.max(1, steps.findIndex(([, x]) => x >= k));
      const [, x0, y0] = steps[after - 1]!;
      const [, x1, y1] = steps[after]!;
      expect(Math.abs(y0 + ((y1 - y0) * (k - x0)) / (x1 - x0) - value)).toBeLessThan(0.1001);
    }
  });

  it("reaches the lowest and the highest of every column", () => {
    let state = 7;
    const luck = (): number => (state = (state * 48271) % 2147483647) / 2147483647;
    const low = Array.from({ length: 500 }, () => Math.fround(luck() * 4 - 2));
    const high = low.map((value) => Math.fround(value + luck() * 2));
    const steps = drawn(low, high);
    for (let k = 1; k < low.length; k++) {
      const [least, most] = touched(steps, k);
      expect(least).toBeLessThanOrEqual(low[k]! + 0.1);
      expect(most).toBeGreaterThanOrEqual(high[k]! - 0.1);
    }
  });

  it("covers every column with a pen of any weight", () => {
    const low = Array.from({ length: 300 }, (_, k) => Math.fround(5 * Math.sin(k / 7) + Math.sin(k * 12.9898)));
    const high = low.map((value, k) => Math.fround(value + 1 + Math.sin(k * 78.233)));
    for (const weight of [0.5, 1.5, 3]) {
      const steps = drawn(low, high, weight);
      for (let k = 1; k < low.length; k++) {
        const [least, most] = touched(steps, k);
        expect(least - weight / 2).toBeLessThanOrEqual(low[k]! + 0.1);
        expect(most + weight / 2).toBeGreaterThanOrEqual(high[k]! - 0.1);
      }
    }
  });

  it("is one flat stroke where the pen covers the columns anyway", () => {
    expect(drawn([0, 0, 0, 0], [1, 1, 1, 1], 1.5)).toEqual([["M", 0, 0], ["L", 0, 1], ["L", 1, 0.5], ["L", 3, 0.5]]);
  });

  it("is drawn nowhere beyond the data", () => {
    const ys = drawn([0, -1, 0.5], [1, 2, 0.75]).map(([, , y]) => y);
    expect([Math.min(...ys), Math.max(...ys)]).toEqual([-1, 2]);
  });

  it("never crosses a gap", () => {
    const steps = drawn([0, 1, NaN, NaN, 4, 5], [0, 1, NaN, NaN, 4, 5]);
    expect(steps.map(([kind, x]) => `${kind}${Math.floor(x)}`)).toEqual(["M0", "L1", "M4", "L5"]);
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
  expect(steps.map(([kind, x, y]) => [kind, x, -y])).toEqual([["M", 0, 5], ["L", 1, 5], ["L", 1, 7], ["M", 3, 2]]);
});
