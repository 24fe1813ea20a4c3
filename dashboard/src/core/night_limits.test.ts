/** Limits of alarms stand in the strips, also those of a reading whose twin is drawn. */
import { expect, it } from "vitest";
import { type Known, amountOf, limitsOf } from "./night_limits";

const NONE: Known = { limits: {}, alarms: [], lives: [], unitOf: () => "A", rateOf: () => 1 };
const alarm = { rank: "alarm", reading: "current_rms_a", low: null, high: 6.5 };

it("draws a person's limit, that of an alarm that is watched, and that of one that came, each once", () => {
  const known = { ...NONE, limits: { current_rms_a: [1, 8] as const }, alarms: [alarm], lives: [{ reading: "current_rms_a", limit: "above 6.5\u00a0A" }, { reading: "current_rms_a", limit: "above 7.0\u00a0A" }] };
  expect(limitsOf(["current_rms_a", "speed_rpm"], known)).toEqual({ own: { current_rms_a: [1, 8, 6.5, 7], speed_rpm: [] }, twins: { current_rms_a: [], speed_rpm: [] } });
});

it("draws a limit once whose alarm says it with fewer digits", () => {
  const known = { ...NONE, alarms: [{ ...alarm, high: 6.54321 }], lives: [{ reading: "current_rms_a", limit: "above 6.543\u00a0A" }] };
  expect(limitsOf(["current_rms_a"], known).own).toEqual({ current_rms_a: [6.54321] });
});

it("tells a limit of the RMS apart in the strip of the mean, as long as the RMS has none of its own", () => {
  const known = { ...NONE, alarms: [alarm] };
  expect(limitsOf(["current_mean_a"], known)).toEqual({ own: { current_mean_a: [] }, twins: { current_mean_a: [6.5] } });
  expect(limitsOf(["current_mean_a", "current_rms_a"], known)).toEqual({ own: { current_mean_a: [], current_rms_a: [6.5] }, twins: { current_mean_a: [], current_rms_a: [] } });
});

it("leaves out what is turned off, and shows speeds in the rig's unit", () => {
  expect(limitsOf(["current_rms_a"], { ...NONE, alarms: [{ ...alarm, rank: "off" }] }).own).toEqual({ current_rms_a: [] });
  const speed = { rank: "caution", reading: "speed_rpm", low: 100, high: null };
  expect(limitsOf(["speed_rpm"], { ...NONE, alarms: [speed], rateOf: () => 0.1 }).own).toEqual({ speed_rpm: [10] });
});

it.each([
  ["above 6.5\u00a0A", "A", 6.5], ["5.0 A", "A", 5], ["below \u22123\u00a0V", "V", -3], ["above 3\u202f000\u00a0r/min", "r/min", 3000], ["above 0.95", "", 0.95],
  ["above 3000\u00a0r/min", "rad/s", null], ["", "A", null],
] as const)("reads the amount of %s in %s", (words, unit, amount) => expect(amountOf(words, unit)).toBe(amount));
