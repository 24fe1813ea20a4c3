/** The plate of a motor behind a drive is held against its phases; a percentage of the link would be another motor's. */
import { expect, it } from "vitest";
import { farContext } from "./context";
import type { Picture, Reading } from "./picture";
import { testPicture } from "./testing";

const plain = (text: string): string => text.replace(/[\u00a0\u2009]/g, " ");
const good = (value: number): Reading => ({ value, confidence: "good", reason: "", at_utc_s: 1000, aged: "" });

function thruster(readings: Record<string, Reading>): Picture {
  const motor = { name: "tender thruster", type: "brushless", plate: { current_a: 13.7 }, plate_source: "board" };
  return testPicture({ motor, far: ["speed_rpm", "current_mean_a", "commutation_valid"], readings });
}

it("holds the phase that carries most against the plate of a brushless motor, never the current of its link", () => {
  const stalled = thruster({ current_mean_a: good(3.02), "current_rms_a.U": good(0.02), "current_rms_a.V": good(29.9), "current_rms_a.W": good(30) });
  expect(plain(farContext("current_mean_a", stalled))).toBe("supply; phase 30.0 A, 219 % of the plate");
  expect(plain(farContext("current_mean_a", thruster({ current_mean_a: good(3.02) })))).toBe("supply current");
});

it("says the volts of the link beside its current, and none that cannot be told from nothing", () => {
  const phases = { current_mean_a: good(0.64), "current_rms_a.U": good(1.6) };
  const words = (volts: Reading, readings: Record<string, Reading>): string => plain(farContext("current_mean_a", thruster({ ...readings, voltage_mean_v: volts })));
  expect(words(good(36.06), phases)).toBe("36.1 V; phase 1.6 A, 12 % of the plate");
  expect(words(good(36.06), { current_mean_a: good(0.01) })).toBe("from 36.1 V");
  expect(words({ ...good(0.02), least: 0.3 }, phases)).toBe("supply; phase 1.6 A, 12 % of the plate");
});

it("holds the line current of a motor on the mains against its plate", () => {
  const picture = testPicture({ readings: { current_rms_a: good(1.28) } });
  expect(plain(farContext("current_rms_a", picture))).toBe("233 % of the plate, 0.55 A");
});

it("has no doubtful number beside a good one", () => {
  const doubtful = (value: number): Reading => ({ ...good(value), confidence: "doubtful", reason: "the supply was switched within the window" });
  const motor = { ...testPicture({}).motor, plate: { speed_rpm: 1380, voltage_v: 230 } };
  const at = (slip: Reading, f: Reading): Picture => testPicture({ motor, readings: { slip, synchronous_speed_rpm: good(1500), frequency_hz: f } });
  const switched = at(doubtful(0.069), doubtful(38.65));
  expect(["speed_rpm", "voltage_rms_v"].map((id) => plain(farContext(id, switched)))).toEqual(["plate 1 380 r/min", "plate 230 V"]);
  const steady = at(good(0.08), good(50));
  expect(["speed_rpm", "voltage_rms_v"].map((id) => plain(farContext(id, steady)))).toEqual(["slip 8.00 % of 1 500 r/min", "50.00 Hz"]);
});
