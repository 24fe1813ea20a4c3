import { expect, it } from "vitest";
import { foundAt, foundOfAll, pointName, sumOf, verdictOf } from "./connections";
import type { Finding } from "./picture";

const found = (key: string, sensor: string, place: string, verdict: Finding["verdict"]): Finding => ({ key, sensor, place, verdict, text: "", change: "" });
const FINDINGS = [
  found("fitted", "current", "L2", "right"),
  found("arrow", "current", "L2", "wrong"),
  found("arrow", "current", "L1", "unknown"),
  found("current_sum", "", "", "wrong"),
];

it("gives what was found of a point, the worst first, whatever the case of its place", () => {
  expect(foundAt(FINDINGS, "current", "l2").map(({ key }) => key)).toEqual(["arrow", "fitted"]);
  expect(verdictOf(foundAt(FINDINGS, "current", "L2"))).toBe("wrong");
  expect(verdictOf(foundAt(FINDINGS, "voltage", "L2"))).toBe(null);
});

it("keeps what is of all together apart", () => {
  expect(foundOfAll(FINDINGS).map(({ key }) => key)).toEqual(["current_sum"]);
});

it("sums up in words, and says when nothing was told", () => {
  expect(sumOf(FINDINGS)).toBe("2 wrong, 1 can't be told yet, 1 right");
  expect(sumOf([])).toBe("nothing told yet");
});

it("writes voltage out beside a phase U", () => {
  expect([pointName("voltage", "U"), pointName("voltage", "supply"), pointName("current", "U"), pointName("hall", "A"), pointName("pulse", "shaft")])
    .toEqual(["voltage U", "U supply", "I U", "Hall A", "pulse"]);
});
