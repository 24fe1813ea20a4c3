/** Mean and ripple of direct current in words: swing from peak to peak, as a share of the mean. */
import { describe, expect, it } from "vitest";
import type { Reading } from "./picture";
import { rippleOf } from "./ripple";
import { testLine } from "./testing";

const good = (value: number, more: Partial<Reading> = {}): Reading => ({ value, confidence: "good", reason: "", at_utc_s: 0, aged: "", ...more });
const plain = (text: string | undefined): string => (text ?? "").replace(/[\u00a0\u2009]/g, " ");
const amps = testLine({ role: "current", unit: "A", peak: [3.8, 4.4], least: 0.02 });

describe("ripple", () => {
  it("is the swing of what is drawn, and its share of the mean that the reading says", () => {
    const found = rippleOf(amps, { current_mean_a: good(4.08) })!;
    expect([plain(found.mean), plain(found.swing), Math.round(found.percent! * 10) / 10]).toEqual(["4.08 A", "0.60 A", 14.7]);
  });

  it("has no share where noise alone may swing as far", () => {
    const found = rippleOf({ ...amps, peak: [4.07, 4.09] }, { current_mean_a: good(4.08) })!;
    expect([plain(found.swing), found.percent]).toEqual(["< 0.040 A", null]);
  });

  it("is none of alternating current, of a doubtful mean, or of next to nothing", () => {
    expect(rippleOf({ ...amps, peak: [-4, 4] }, { current_mean_a: good(0.01) })).toBeNull();
    expect(rippleOf(amps, { current_mean_a: good(4.08, { confidence: "doubtful", reason: "a gap" }) })).toBeNull();
    expect(rippleOf(amps, { current_mean_a: good(0.001, { least: 0.01 }) })).toBeNull();
    expect(rippleOf(amps, {})).toBeNull();
  });
});
