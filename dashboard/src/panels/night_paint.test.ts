/** What the line of a mean goes through. */
import { expect, it } from "vitest";
import { meanPath } from "./night_paint";

it("ends a line where a column of the other trust has a value, and bridges one that has none", () => {
  const drawn: string[] = [];
  const path = { moveTo: (x: number, y: number) => drawn.push(`M${x} ${y}`), lineTo: (x: number, y: number) => drawn.push(`L${x} ${y}`) };
  const mean = Float32Array.from([5, 6, 5, NaN, 5]);
  const band = { low: mean, high: mean, mean, trusted: Float32Array.from([1, 0, 1, 0, 1]), bound: "" as const };
  meanPath(path as unknown as CanvasPath, band, (k) => k * 10, (value) => value, (k) => k !== 1, () => true);
  expect(drawn).toEqual(["M0 5", "L10 5", "M20 5", "L50 5"]); // points on a straight line are left out
});
