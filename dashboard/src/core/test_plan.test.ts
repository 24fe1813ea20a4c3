import { describe, expect, it } from "vitest";
import { type Names, type PlanTables, countedWords, dutyWords, limitFields, limitGiven, limitRows, limitValues, lineOf, planFields, planGiven, planTables, spanOf, withLimit } from "./test_plan";

const PLAN: PlanTables = {
  test: { specimen: "cabin ventilator", goal_cycles: 10000, unknown_percent: 1, ambient_c: 22 },
  duty: { on_s: 60, off_s: 240, tolerance_percent: 5 },
  readings: { current_rms_a: { high: 0.8, state: "running" } },
};
const NAMES: Names = {
  reading: (id) => [id === "current_rms_a" ? "Current, RMS" : id, "A"],
  figures: [{ key: "starting_time_s", label: "starting time", unit: "s", digits: 2, definition: "" }],
  kinds: { events: { stalled: "the motor stalled" }, verdicts: {} },
};
const NOW_UTC_S = Date.UTC(2026, 10, 25, 20) / 1000;

describe("the form of a plan", () => {
  it("says back what it was given, and keeps what it does not ask", () => {
    const fields = planFields([], PLAN, NOW_UTC_S);
    expect(planTables(planGiven(PLAN, fields), fields, PLAN, NOW_UTC_S)).toEqual(PLAN);
  });

  it("leaves out what was emptied, and with the duty its tolerance", () => {
    const fields = planFields([], PLAN, NOW_UTC_S);
    const given = { ...planGiven(PLAN, fields), "test.goal_cycles": "", "test.goal_hours": "1,5", "duty.on_s": "", "duty.off_s": " " };
    const { test, duty, readings } = planTables(given, fields, PLAN, NOW_UTC_S);
    expect(test).toEqual({ specimen: "cabin ventilator", goal_hours: 1.5, unknown_percent: 1, ambient_c: 22 });
    expect(duty).toEqual({});
    expect(readings).toEqual(PLAN.readings);
  });

  it("gives what is no number to the service as it is, which refuses it at its field", () => {
    const fields = planFields([], {}, NOW_UTC_S);
    expect(planTables({ "test.goal_cycles": "many" }, fields, {}, NOW_UTC_S).test).toEqual({ goal_cycles: "many" });
  });

  it("counts from now on in UTC, or from when it did", () => {
    const fields = planFields([], {}, NOW_UTC_S);
    const made = planTables({ "test.begins": "now" }, fields, {}, NOW_UTC_S + 0.7);
    expect(made.test).toEqual({ begins: "2026-11-25T20:00:00Z" });
    expect(planFields([], made, NOW_UTC_S).find(({ key }) => key === "test.begins")!.choices!.map(([value]) => value)).toEqual(["2026-11-25T20:00:00Z", "", "now"]);
    expect(countedWords(made, NOW_UTC_S)).toMatch(/^runs since 2[456]\u00a0Nov \d\d:00 count$/);
    expect(countedWords(PLAN, NOW_UTC_S)).toBe("all runs of the rig count");
  });

  it("asks for an equilibrium only where a temperature is read, or was named", () => {
    const keys = (temperatures: readonly (readonly [string, string])[], tables: PlanTables): boolean => planFields(temperatures, tables, NOW_UTC_S).some(({ key }) => key === "test.heat_run");
    expect([keys([], {}), keys([["temperature_c.winding", "Winding"]], {}), keys([], { test: { heat_run: "temperature_c.housing" } })]).toEqual([false, true, true]);
  });
});

describe("what fails a test", () => {
  it("is told by name, end and when it counts", () => {
    const tables: PlanTables = { ...PLAN, cycles: { starting_time_s: { low: 0.1, high: 0.8 } }, events: { stalled: { most: 2 } }, verdicts: { phase_open: { most: 0 } } };
    expect(limitRows(tables, NAMES).map(({ name, words }) => `${name}: ${words}`)).toEqual([
      "Current, RMS: above 0.8\u00a0A, while it runs",
      "Starting time: below 0.1\u00a0s or above 0.8\u00a0s, in any cycle",
      "The motor stalled: more than 2 times",
      "Phase open: at all",
    ]);
  });

  it("is added, changed and taken away without touching the others", () => {
    const more = withLimit(PLAN, "readings", "voltage_rms_v", { low: 200 });
    expect(Object.keys(more.readings!)).toEqual(["current_rms_a", "voltage_rms_v"]);
    expect(withLimit(more, "readings", "current_rms_a", null).readings).toEqual({ voltage_rms_v: { low: 200 } });
    expect(withLimit(PLAN, "events", "stalled", { most: 0 }).readings).toEqual(PLAN.readings);
  });

  it("is what was typed in its form, the choice of what it is of apart", () => {
    const fields = limitFields("readings", [["current_rms_a", "Current"]], "");
    expect(limitGiven(undefined, fields)).toEqual({ of: "current_rms_a", low: "", high: "", state: "running" });
    expect(limitValues({ of: "current_rms_a", low: "", high: "0,8", state: "any" }, fields)).toEqual({ high: 0.8, state: "any" });
    expect(limitValues({ most: "" }, limitFields("events", [], ""))).toEqual({});
  });
});

describe("the rest of a plan in words", () => {
  it("says which duty is expected", () => {
    expect(dutyWords(PLAN)).toBe("on 60\u00a0s, off 240\u00a0s, ± 5\u00a0%");
    expect(dutyWords({ duty: { type: "S1" } })).toBe("S1");
    expect(dutyWords({})).toBe("");
  });

  it("finds the line that a refusal names", () => {
    const text = "[test]\nspecimen = 3\ngoal_hours = 1\n";
    const line = lineOf("/data/plans/bench.toml, line 2: specimen = 3: this is not text; write text.");
    expect(text.slice(...spanOf(text, line!))).toBe("specimen = 3");
    expect(lineOf("The plan cannot be written.")).toBeNull();
  });
});
