/** Words beside a reading that is outside what a person set. */
import { expect, it } from "vitest";
import { outside } from "./limits";
import { testPicture } from "./testing";

const good = { confidence: "good", reason: "", at_utc_s: 1000, aged: "" } as const;

it.each([
  [3.1, [null, 3], "above 3\u00a0A, the limit you set"], [3, [null, 3], ""], [0.05, [0.1, 3], "below 0.1\u00a0A, the limit you set"],
  [-1, [null, 3], ""], [2, [null, null], ""],
] as const)("%d A of %j: %s", (value, ends, words) => {
  const picture = testPicture({ readings: { current_rms_a: { value, ...good } }, limits: { current_rms_a: ends } });
  expect(outside("current_rms_a", picture, "A")).toBe(words);
});

it("says nothing of what is old, absent or without a limit", () => {
  const reading = { value: 9, ...good };
  const limits = { current_rms_a: [null, 3] as const };
  expect(outside("current_rms_a", testPicture({ readings: { current_rms_a: { ...reading, aged: "stale" } }, limits }), "A")).toBe("");
  expect(outside("current_rms_a", testPicture({ readings: { current_rms_a: { ...reading, value: null, confidence: "absent" } }, limits }), "A")).toBe("");
  expect(outside("voltage_rms_v", testPicture({ readings: { voltage_rms_v: reading }, limits }), "V")).toBe("");
});
