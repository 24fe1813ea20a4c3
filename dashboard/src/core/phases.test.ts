/** Readings of several places beside each other: phases in their order, totals in a column of their own. */
import { describe, expect, it } from "vitest";
import { TOTAL, gridsOf, mainPhase, phaseOf } from "./phases";
import { testPicture } from "./testing";

const LINES = ["current_rms_a", "current_rms_a.L2", "current_rms_a.L3", "active_power_w.L1", "active_power_w.L2", "active_power_w.L3", "active_power_w", "arithmetic_apparent_power_va", "speed_rpm"];

describe("the phase of a reading", () => {
  it("is the missing one where the main one stands without a place", () => {
    expect(LINES.map((id) => phaseOf(id, LINES))).toEqual(["L1", "L2", "L3", "L1", "L2", "L3", "", "", ""]);
    expect(phaseOf("current_rms_a", ["current_rms_a", "current_rms_a.L1", "current_rms_a.L3"])).toBe("L2");
  });

  it("is none for the supply of a bridge, nor for a motor with one supply", () => {
    const bridge = ["current_rms_a", "current_rms_a.U", "current_rms_a.V", "current_rms_a.W"];
    expect(phaseOf("current_rms_a", bridge)).toBe("");
    expect(phaseOf("current_rms_a", ["current_rms_a", "current_rms_a.U"])).toBe("");
    expect(phaseOf("current_rms_a", ["current_rms_a", "current_rms_a.auxiliary"])).toBe("");
  });

  it("is said in the far line", () => {
    const good = { value: 1, confidence: "good", reason: "", at_utc_s: 0, aged: "" } as const;
    const three = testPicture({ readings: Object.fromEntries(LINES.map((id) => [id, good])) });
    expect(mainPhase(three)).toBe("phase L1");
    expect(mainPhase(testPicture({}))).toBe("");
  });
});

describe("tables", () => {
  it("have L1 L2 L3 and the totals beside them, and other places in tables of their own", () => {
    const { plain, grids } = gridsOf([...LINES, "edge_speed_rpm.window", "edge_speed_rpm.placed edges"]);
    expect(plain).toEqual(["speed_rpm"]);
    expect(grids.map(({ columns }) => columns)).toEqual([["L1", "L2", "L3", TOTAL], ["window", "placed edges"]]);
    expect(grids[0]!.rows).toEqual([
      { key: "current_rms_a", ids: ["current_rms_a", "current_rms_a.L2", "current_rms_a.L3", undefined] },
      { key: "active_power_w", ids: ["active_power_w.L1", "active_power_w.L2", "active_power_w.L3", "active_power_w"] },
      { key: "arithmetic_apparent_power_va", ids: [undefined, undefined, undefined, "arithmetic_apparent_power_va"] },
    ]);
  });

  it("leave the supply of a bridge where it stands alone", () => {
    const { plain, grids } = gridsOf(["current_rms_a", "current_rms_a.U", "current_rms_a.V", "current_rms_a.W"]);
    expect(plain).toEqual(["current_rms_a"]);
    expect(grids[0]!.columns).toEqual(["U", "V", "W"]);
  });
});
