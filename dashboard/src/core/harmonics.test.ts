import { expect, test } from "vitest";
import { type Harmonics, harmonicRows, placesOf, reasonsOf, scaled, together } from "./harmonics";
import type { Reading } from "./picture";

const reading = (value: readonly number[] | null, more: Partial<Reading> = {}): Reading => ({ value, confidence: value ? "good" : "absent", reason: "", at_utc_s: 0, aged: "", ...more });

const ALL: Harmonics = {
  readings: {
    current_harmonics_a: reading([2, 0.001, 0.2], { u95: [0.01, 0.002, 0.003] }),
    current_harmonic_angles_deg: reading([-30, 12, 100]),
    current_harmonic_subgroups_a: reading([2.01, 0.002, 0.21]),
    current_interharmonic_subgroups_a: reading([0.03, 0.04, 0.05]),
    "current_harmonics_a.L2": reading([1]),
    voltage_harmonics_v: reading(null, { reason: "clipped at ±600 V" }),
  },
  limits_a: [null, 1.08, 2.3],
  limits: "for information only",
};

test("a row for each order from 0 on, with what lies above it", () => {
  const rows = harmonicRows(ALL, "current", "", 50);
  expect(rows.map((row) => row[0])).toEqual(["0", "1", "2", "3"]);
  expect(rows[0]![8]).toBe("30.0\u00a0mA");
  expect(rows[3]).toEqual(["3", "150.0\u00a0Hz", "200.0\u00a0mA", "3.0\u00a0mA", "10.00\u00a0%", "100.0°", "210\u00a0mA", "–", "–", "2.300\u00a0A"]);
  expect(rows[1]![9]).toBe("");
});

test("what is not above its ± has no angle", () => {
  const rows = harmonicRows(ALL, "current", "", 50);
  expect(rows[2]![5]).toBe("–");
  expect(rows[1]![5]).toBe("\u221230.0°");
});

test("lists that are not there are told with their reason, and there are no rows", () => {
  expect(harmonicRows(ALL, "voltage", "", 50)).toEqual([]);
  expect(reasonsOf(ALL, "voltage", "")).toEqual(["absent: clipped at ±600 V"]);
  expect(placesOf(ALL, "current")).toEqual(["", "L2"]);
});

test("amounts are written in the unit that fits", () => {
  expect(scaled(229.96, "V")).toBe("230.0\u00a0V");
  expect(scaled(2.0149, "A")).toBe("2.015\u00a0A");
  expect(scaled(0.5, "A")).toBe("500\u00a0mA");
  expect(scaled(0.00123, "A")).toBe("1.230\u00a0mA");
});

test("a value and its ± stand in one unit, to two figures of the ±", () => {
  expect(together(2.7471, 0.0157, "A")).toEqual(["2.747\u00a0A", "0.016\u00a0A"]);
  expect(together(0.1943, 0.00113, "A")).toEqual(["194.3\u00a0mA", "1.1\u00a0mA"]);
  expect(together(229.96, 0.24, "V")).toEqual(["229.96\u00a0V", "0.24\u00a0V"]);
  expect(together(229.96, 12.4, "V")).toEqual(["230\u00a0V", "12\u00a0V"]);
});
