/** Words wait while a picture stands still, and do not wait when it has become another one. */
import { describe, expect, it } from "vitest";
import { moved } from "./moved";
import type { Line, Picture, Reading } from "./picture";
import { testLine, testPicture } from "./testing";

const DIGITS: Record<string, number> = { speed_rpm: 0, current_rms_a: 3, voltage_rms_v: 1 };
const good = (value: number, more: Partial<Reading> = {}): Reading => ({ value, confidence: "good", reason: "", at_utc_s: 1000, aged: "", ...more });

function picture(amps: number, readings: Record<string, Reading> = {}, lines?: Line[]): Picture {
  const base = testPicture({});
  const current = testLine({ role: "current", place: "line", name: "I", unit: "A", range: [-5, 5], peak: [-amps, amps] });
  const all = { speed_rpm: good(1380), current_rms_a: good(0.55), voltage_rms_v: good(230), ...readings };
  return { ...base, readings: all, trace: { ...base.trace!, lines: lines ?? [testLine(), current] } };
}

const differs = (after: Picture, before = picture(0.8)): boolean => moved(before, after, (id) => DIGITS[id] ?? 0);

describe("a picture has moved", () => {
  it("when a peak or a number of the far line changed by more than a tenth", () => {
    expect(differs(picture(0.9))).toBe(true);
    expect(differs(picture(0.8, { speed_rpm: good(1200) }))).toBe(true);
  });

  it("when a number became doubtful, old, or was lost", () => {
    expect(differs(picture(0.8, { voltage_rms_v: good(230, { confidence: "doubtful", reason: "6 frames lost" }) }))).toBe(true);
    expect(differs(picture(0.8, { voltage_rms_v: good(230, { aged: "stale" }) }))).toBe(true);
    expect(differs(picture(0.8, { voltage_rms_v: good(230, { value: null, confidence: "absent" }) }))).toBe(true);
  });

  it("when samples are missing, or there is no phase to draw any more", () => {
    const trace = picture(0.8).trace!;
    expect(differs({ ...picture(0.8), trace: { ...trace, gaps: [[0.01, 0.02]] } })).toBe(true);
    expect(differs({ ...picture(0.8), trace: { ...trace, zero_current_s: null } })).toBe(true);
    expect(differs({ ...picture(0.8), trace: null })).toBe(true);
  });
});

describe("a picture has not moved", () => {
  it("when it creeps, or its last digits dance", () => {
    expect(differs(picture(0.82, { speed_rpm: good(1379), current_rms_a: good(0.56) }))).toBe(false);
  });

  it("when only the noise of a motor at rest is another", () => {
    const rest = (amps: number, rms: number): Picture => picture(amps, { speed_rpm: good(0), current_rms_a: good(rms), voltage_rms_v: good(rms * 10) });
    expect(differs(rest(0.003, 0.002), rest(0.006, 0.001))).toBe(false);
  });
});
