/** Words for time spent, samples and plans. */
import { expect, it } from "vitest";
import { accountWords, columnWords, countsWords, goalWords, holeWords, leftWords, shareWords, shares } from "./night_words";

it("tells states in reading order, and 100 % only of what was all", () => {
  const found = shares({ spent: { "not recorded": 3, running: 36_780, resting: 0 } });
  expect(found.map(({ state }) => state)).toEqual(["running", "not recorded"]);
  expect(shareWords(found[0]!, 36_783)).toBe("running 10\u00a0h 13\u00a0min, 99.9\u00a0%");
  expect(shareWords(found[1]!, 36_783)).toBe("not recorded 3\u00a0s, <\u00a00.1\u00a0%");
});

it("counts what happened and sums up what flowed; a sum that is short says so", () => {
  const night = { counts: { running: 1 }, energy_j: 492 * 3600, charge_c: 41 * 3600, sums_short: false };
  expect(countsWords(night, 1)).toBe("came to speed once, stalls 0, reversals 0, cycles 1; 41.0\u00a0Ah, 492\u00a0Wh");
  expect(countsWords({ ...night, sums_short: true, charge_c: null }, null)).toBe("came to speed once, stalls 0, reversals 0; at least 492\u00a0Wh");
  expect(countsWords({ ...night, energy_j: null, charge_c: null }, null)).toBe("came to speed once, stalls 0, reversals 0");
  expect(countsWords({ ...night, counts: { power_on: 1, running: 2, stalled: 1 } }, 1)).toMatch(/^came to speed 2 times, stalls 1, reversals 0, cycles 1; /);
});

it("accounts for every sample: promised = stored + missing", () => {
  const line = { what: "samples", channels: ["U", "I"], promised: 1000, stored: 900, missing: { "cable out": 100 }, exact: true, words: "" };
  expect(accountWords(line)).toBe("U, I: 1\u2009000 promised each = 900 stored + 100 cable out.");
  expect(accountWords({ ...line, channels: [], what: "edges", stored: 1000, missing: {} })).toBe("Edges: 1\u2009000 promised = all 1\u2009000 stored.");
  expect(accountWords({ ...line, exact: false })).toContain("wrong: please report it");
});

it("says why a hole is there", () => {
  expect(holeWords({ from_utc_s: 0, to_utc_s: 420, reason: "cable out" })).toBe("7\u00a0min 00\u00a0s without samples: cable out");
  expect(holeWords({ from_utc_s: 0, to_utc_s: 5, reason: "no run was recorded" })).toBe("5\u00a0s not recorded: no run was recorded");
  expect([columnWords(36), columnWords(64), columnWords(1.5), columnWords(512), columnWords(2048)]).toEqual(["36\u00a0s", "64\u00a0s", "1.5\u00a0s", "8.5\u00a0min", "34\u00a0min"]);
});

it("sets counts against their goals and tells the time left with its ±, or why it is not known", () => {
  expect(goalWords({ goal_cycles: 10_000 }, { cycles: 3120, hours: 41.2 })).toEqual(["3\u2009120 of 10\u2009000\u00a0cycles", "41.2\u00a0h on"]);
  expect(goalWords({ goal_cycles: 3 }, { cycles: 3, hours: 0.01358 })).toEqual(["3 of 3\u00a0cycles", "49\u00a0s on"]);
  expect(goalWords({ goal_hours: 0.2 }, { cycles: 7, hours: 0.04 })).toEqual(["7 cycles so far", "0.04 of 0.2\u00a0h on"]);
  const left = { seconds: 367_200, u95: 10_800, reason: "", cycles: 6880, hours: null, by: "200 cycles" };
  expect(leftWords({ left })).toBe("About 4.25 ± 0.13\u00a0days left, by 200 cycles.");
  expect(leftWords({ left: { ...left, seconds: 271.3, u95: 9.57 } })).toBe("About 4.52 ± 0.16\u00a0min left, by 200 cycles.");
  expect(leftWords({ left: { ...left, seconds: 271.3, u95: null } })).toBe("About 4\u00a0min 31\u00a0s left, by 200 cycles.");
  expect(leftWords({ left: { ...left, seconds: null, reason: "no whole cycle was seen" } })).toBe("Time left is not known: no whole cycle was seen.");
});
