/** Fundamentals as arrows: names of the phases, lengths on one scale, lag and sequence in words. */
import { describe, expect, it } from "vitest";
import { diagram, hasPhasors, phasorWords } from "./phasors";
import type { Reading } from "./picture";

const good = (value: Reading["value"], more: Partial<Reading> = {}): Reading => ({ value, confidence: "good", reason: "", at_utc_s: 0, aged: "", ...more });
const plain = (text: string): string => text.replace(/[\u00a0\u2009]/g, " ");

const THREE = {
  voltage_fundamental_v: good(230), voltage_angle_deg: good(0),
  "voltage_fundamental_v.L2": good(231), "voltage_angle_deg.L2": good(-120),
  "voltage_fundamental_v.L3": good(229), "voltage_angle_deg.L3": good(120),
  current_fundamental_a: good(3), current_angle_deg: good(-40),
  "current_fundamental_a.L2": good(2), "current_angle_deg.L2": good(-160),
  "current_fundamental_a.L3": good(3), "current_angle_deg.L3": good(80),
  voltage_phase_order: good("L1 L2 L3"), voltage_unbalance_percent: good(0.43),
  current_phase_order: good("L1 L2 L3"), current_unbalance_percent: good(12.3),
};

describe("three phases", () => {
  it("have six arrows with their names, each kind against its longest", () => {
    const { arrows } = diagram({ readings: THREE });
    expect(arrows.map(({ role, place, deg }) => `${role} ${place} ${deg}`)).toEqual([
      "voltage L1 0", "voltage L2 -120", "voltage L3 120", "current L1 -40", "current L2 -160", "current L3 80",
    ]);
    expect(arrows.map(({ length }) => Math.round(length * 100))).toEqual([100, 100, 99, 100, 67, 100]);
  });

  it("say order and unbalance in words", () => {
    expect(phasorWords({ readings: THREE }, diagram({ readings: THREE })).map(plain)).toEqual([
      "voltages in the order L1 L2 L3, unbalance 0.4 %", "currents in the order L1 L2 L3, unbalance 12.3 %",
    ]);
  });
});

describe("one supply", () => {
  const ONE = { voltage_fundamental_v: good(230), voltage_angle_deg: good(0), current_fundamental_a: good(0.5), current_angle_deg: good(-73) };

  it("says by how much the current lags, and that of the winding beside leads", () => {
    const aside = { ...ONE, "current_fundamental_a.auxiliary": good(0.3), "current_angle_deg.auxiliary": good(20) };
    expect(phasorWords({ readings: aside }, diagram({ readings: aside }))).toEqual(["current lags by 73.0°", "current auxiliary leads by 20.0°"]);
  });

  it("draws nothing that is absent, aged or too small, and says why", () => {
    const absent = good(null, { confidence: "absent", reason: "direct voltage" });
    const off = { voltage_fundamental_v: absent, voltage_angle_deg: absent };
    expect(diagram({ readings: off })).toEqual({ arrows: [], reason: "direct voltage" });
    const small = { ...ONE, current_fundamental_a: good(0.001, { least: 0.01 }), voltage_fundamental_v: good(230, { aged: "stale" }) };
    expect(diagram({ readings: small }).arrows).toEqual([]);
  });

  it("is known before the first arrow is, and not for a motor on direct current", () => {
    expect([hasPhasors(ONE), hasPhasors({ current_mean_a: good(3) })]).toEqual([true, false]);
  });
});
