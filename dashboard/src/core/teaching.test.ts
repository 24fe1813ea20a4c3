import { expect, test } from "vitest";
import { type Choice, driveWords, isSwitch, orderWords, sorted, unitOf } from "./teaching";

const choice = (key: string): Choice => ({ key, says: "", values: null, low: 0, high: 1 });

test("what matters most stands first, whatever order the motor tells it in", () => {
  const { first, more } = sorted(["hall_late_deg", "phase_order", "drive", "hall_joined"].map(choice));
  expect(first.map(({ key }) => key)).toEqual(["drive", "phase_order"]);
  expect(more.map(({ key }) => key)).toEqual(["hall_late_deg", "hall_joined"]);
});

test("an order of wires is said place by place, the right one not at all", () => {
  expect(orderWords("BCA", "ABC")).toBe("B on A, C on B, A on C");
  expect(orderWords("ABC", "ABC")).toBe("");
});

test("what moves the shaft is said with voltage and limit, an unknown one by its own word", () => {
  expect(driveWords("drive_1_a")).toBe("drive, 12 V, limit 1 A");
  expect(driveWords("drive_5_a")).toBe("drive 5 a");
});

test("a switch is a number of 0 or 1, no share, no word and no angle", () => {
  expect(["phase_u_open", "jammed", "hall_joined_high", "edges_missed", "edges_doubled"].map((key) => isSwitch(choice(key)))).toEqual([true, true, true, false, false]);
  expect(isSwitch({ ...choice("hall_late_deg"), low: -60, high: 60 })).toBe(false);
  expect(isSwitch({ ...choice("hall_order"), values: [], low: null, high: null })).toBe(false);
});

test("the unit of a number is that of its name", () => {
  expect(["hall_late_deg", "hall_pulses_hz", "phase_u_ohm_factor", "hall_joined"].map((key) => unitOf(choice(key)))).toEqual(["°", "Hz", "times", ""]);
  expect(["load_friction_n_m_s", "load_inertia_kg_m2", "load_torque_n_m", "ambient_c", "duty"].map((key) => unitOf(choice(key)))).toEqual(["N m s", "kg m²", "N m", "°C", "(1: all)"]);
  expect(unitOf({ key: "hall_spacing_deg", values: [] })).toBe("");
});
