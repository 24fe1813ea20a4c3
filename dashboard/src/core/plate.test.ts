/** A drive's link carries another current than the leads of its motor: only these are held against the plate. */
import { expect, it } from "vitest";
import type { Reading } from "./picture";
import { motorSide, plateShare } from "./plate";
import { testPicture } from "./testing";

const amps = (value: number, more: Partial<Reading> = {}): Reading => ({ value, confidence: "good", reason: "", at_utc_s: 1000, aged: "", ...more });
const share = (type: string, readings: Record<string, Reading>, current_a = 10): number | null =>
  plateShare(testPicture({ motor: { name: "", type, plate: { current_a }, plate_source: "board" }, readings }));

it("takes the line of a single-phase motor, not its auxiliary winding", () => {
  expect(share("permanent_split_capacitor", { current_rms_a: amps(5), "current_rms_a.auxiliary": amps(9) })).toBe(0.5);
});

it("takes the phase that carries most", () => {
  expect(share("three_phase_induction", { current_rms_a: amps(8), "current_rms_a.L2": amps(12), "current_rms_a.L3": amps(9) })).toBe(1.2);
  expect(share("brushless", { current_rms_a: amps(2), "current_rms_a.U": amps(29), "current_rms_a.V": amps(30) })).toBe(3);
});

it("is not known from the link alone, from what is old or absent, or without a plate", () => {
  expect(share("brushless", { current_rms_a: amps(2) })).toBeNull();
  expect(share("permanent_split_capacitor", { current_rms_a: amps(5, { aged: "stale" }) })).toBeNull();
  expect(share("permanent_split_capacitor", { current_rms_a: amps(5, { confidence: "absent", value: null }) })).toBeNull();
  expect(share("permanent_split_capacitor", { current_rms_a: amps(5) }, 0)).toBeNull();
});

it("what the motor's side is follows from the plate, and where it says nothing the worst holds", () => {
  expect(motorSide(12, null)[0]).toBe("12\u00a0V on the motor side.");
  expect(motorSide(230, 50)[0]).toBe("Mains (230\u00a0V) on the motor side.");
  expect(motorSide(310, null)[0]).toBe("310\u00a0V direct on the motor side.");
  expect(motorSide(null, null)[0]).toBe("Mains, perhaps, on the motor side.");
  expect(motorSide(36, 50)[0]).toContain("Mains");
});
