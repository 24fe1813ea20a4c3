/** Which two are compared, how figures and changes are written, what stands in the drawing as a dimension. */
import { describe, expect, it } from "vitest";
import { type Comparison, type Difference, type Figure, changeWords, figureWords, moved, names, pairOf, sentence, ticked, ticksOf } from "./compare";

const NOV_12 = new Date(2026, 10, 12, 16, 20).getTime() / 1000;
const NOV_25 = new Date(2026, 10, 25, 14, 2).getTime() / 1000;
const known = (value: number | null, u95: number | null = 0.016, reason = ""): Figure => ({ value, u95, bound: "", reason });
const figure = (key: string, label: string, older: Figure, newer: Figure, outcome: Difference["outcome"] = "differs"): Difference => ({
  key, label, unit: "s", digits: 2, definition: "", outcome, older, newer, change: null, change_u95: null,
  share: older.value && newer.value ? (100 * (newer.value - older.value)) / older.value : null, why: "its ± is not known",
});
const side = (opened_utc_s: number): Comparison["older"] => ({
  run: `run-${opened_utc_s}`, rig: "heron-1", motor: "bench grinder", opened_utc_s, at_utc_s: opened_utc_s + 3, from_s: 0, step_s: 0.01,
  current_a: [1], speed_rpm: [1], synchronous_rpm: 3000,
});
const SWITCH = figure("switch_s", "start switch opened after", known(0.67), known(0.78));
const laid = (differences: readonly Difference[], kind = "power_on"): Comparison => ({ kind, kinds: [], older: side(NOV_12), newer: side(NOV_25), differences });

describe("two ticked runs", () => {
  it("are two: a third is refused and the two stay", () => {
    expect(ticked([], "a")).toEqual({ picked: ["a"], refused: false });
    expect(ticked(["a"], "b")).toEqual({ picked: ["a", "b"], refused: false });
    expect(ticked(["a", "b"], "c")).toEqual({ picked: ["a", "b"], refused: true });
    expect(ticked(["a", "b"], "a")).toEqual({ picked: ["b"], refused: false });
  });
  it.each([["a+b", ["a", "b"]], ["a", null], ["", null], ["a+", null], ["a+b+c", null]])("stand in the address: %s", (address, pair) => {
    expect(pairOf(address)).toEqual(pair);
    expect(ticksOf(address)).toEqual(pair ?? (address === "a+" ? ["a"] : []));
  });
  it("are named by their days, or by the time of one day", () => {
    expect(names(laid([]))).toEqual(["12\u00a0Nov", "25\u00a0Nov"]);
    expect(names({ older: side(NOV_25), newer: side(NOV_25 + 1740) })).toEqual(["14:02", "14:31"]);
    expect(names({ older: side(NOV_25), newer: side(NOV_25 + 34) })).toEqual(["14:02:00", "14:02:34"]);
  });
});

describe("a figure", () => {
  it("ends where its ± ends, and is a dash without a unit where there is none", () => {
    expect(figureWords(known(0.7834, 0.016), SWITCH)).toEqual(["0.783\u00a0s", "±0.016"]);
    expect(figureWords(known(136.4, 1.2), { unit: "W", digits: 1 })).toEqual(["136.4\u00a0W", "±1.2"]);
    expect(figureWords(known(2, null), SWITCH)).toEqual(["2.00\u00a0s", ""]);
    expect(figureWords({ ...known(24, null), bound: "at least" }, SWITCH)).toEqual(["at least 24.00\u00a0s", ""]);
    expect(figureWords(known(null, null, "run ended first"), SWITCH)).toEqual(["–", ""]);
  });
  it("changes by a share, or says why it cannot be told", () => {
    expect(changeWords(SWITCH)).toBe("+16\u00a0%");
    expect(changeWords(figure("a", "a", known(3000), known(2990)))).toBe("\u22120.33\u00a0%");
    expect(changeWords(figure("a", "a", known(20), known(null, null, "run ended first"), "absent"))).toBe("absent: run ended first");
    expect(changeWords(figure("a", "a", known(20), known(21, null), "unknown"))).toBe("its ± is not known");
  });
});

describe("the drawing", () => {
  it("has what opens later as a dimension, and says so in a sentence", () => {
    expect(moved(laid([SWITCH]))).toEqual({ older_s: 0.67, newer_s: 0.78, words: "switch opens 110\u00a0ms later", short: "110\u00a0ms later" });
    expect(sentence(laid([SWITCH]))).toContain("switch opens 110\u00a0ms later on 25\u00a0Nov.");
  });
  it("has none where moments are alike, or where another event is laid on the other", () => {
    expect(moved(laid([{ ...SWITCH, outcome: "alike" }]))).toBeNull();
    expect(moved(laid([SWITCH], "load_step"))).toBeNull();
    expect(sentence(laid([]))).toContain("no figure differs beyond both uncertainties");
  });
});
