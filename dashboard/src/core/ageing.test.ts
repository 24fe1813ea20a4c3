import { describe, expect, it } from "vitest";
import { ageOf, agedReadings, sampleAge } from "./ageing";
import type { Picture, Readings } from "./picture";

const good = { value: 2.02, confidence: "good", reason: "", at_utc_s: 1000, aged: "" } as const;
const never = { value: null, confidence: "absent", reason: "no torque channel on this board", at_utc_s: null, aged: "" } as const;
const READINGS: Readings = { current_rms_a: good, torque_nm: never };

describe("age of the picture", () => {
  it("is the service's own difference and the time since the message came, never a difference of two clocks", () => {
    const picture = { now_utc_s: 5_000_000.5, sample_utc_s: 5_000_000.48 } as Picture;
    expect(sampleAge(picture, 100, 1100)).toBeCloseTo(1.02, 6);
  });

  it("is unknown without a sample", () => {
    expect(sampleAge({ now_utc_s: 1, sample_utc_s: null } as Picture, 0, 0)).toBeNull();
  });

  it("is stale after 1 s and too old after 5 s", () => {
    expect([0.99, 1, 1.01, 5, 5.01].map(ageOf)).toEqual(["", "", "stale", "stale", "absent"]);
  });
});

describe("readings without a message", () => {
  it("stay the same objects for the first second", () => {
    expect(agedReadings(READINGS, 0.9)).toBe(READINGS);
  });

  it("become stale, then absent, and say why", () => {
    expect(agedReadings(READINGS, 2)["current_rms_a"]).toMatchObject({ value: 2.02, aged: "stale", reason: "no message from the service" });
    expect(agedReadings(READINGS, 6)["current_rms_a"]).toMatchObject({ aged: "absent" });
  });

  it("keep the reason of what was absent before", () => {
    expect(agedReadings(READINGS, 6)["torque_nm"]).toBe(never);
  });
});
