import { describe, expect, test } from "vitest";
import { type HallTiming, behind, dimensionOf, fractionWords, fromPlate, levelPath, levelsOver, plugSentence, rightOver, wavePath, wireWords, wiresOf } from "./wiring";

const x = (deg: number): number => deg - 30; // one pixel a degree
const hall = (more: Partial<HallTiming>): HallTiming => ({
  name: "A", rise_deg: 30, right_deg: 30, late_deg: 0, edges: [[30, 1], [210, 0]], high: 0, words: [], dimension: false, ...more,
});

describe("signals against electrical angle", () => {
  test("the drawing begins at 30 degrees, where sector 1 does", () => {
    expect(behind(30)).toBe(0);
    expect(behind(0)).toBe(330);
    expect(behind(400)).toBe(10);
  });

  test("an input that rises at the margin is high from there, without an upright there", () => {
    expect(levelPath(levelsOver(hall({}), 1), x, 20, 0, 1)).toBe("M0 0H180V20H360");
  });

  test("an edge just beside the margin, of a sensor a degree off, is no upright there either", () => {
    const off = levelsOver(hall({ edges: [[29.2, 1], [209.2, 0]] }), 1);
    expect(levelPath(off, x, 20, 0, 1)).toBe("M0 0H179.2V20H360");
  });

  test("an input that is high over the margin begins high", () => {
    expect(levelPath(levelsOver(hall({ edges: [[270, 1], [90, 0]] }), 1), x, 20, 0, 1)).toBe("M0 0H60V20H240V0H360");
  });

  test("two turns are the same twice", () => {
    expect(levelPath(rightOver(150, 2), x, 20, 0, 2)).toBe("M0 20H120V0H300V20H480V0H660V20H720");
  });

  test("an input that never changes is a flat line at its level", () => {
    expect(levelPath(levelsOver(hall({ edges: [], high: 1 }), 1), x, 20, 0, 1)).toBe("M0 0H360");
    expect(levelPath(levelsOver(hall({ edges: [], high: 0 }), 1), x, 20, 0, 1)).toBe("M0 20H360");
  });

  test("a wave begins and ends on the margins, and breaks where nothing was seen", () => {
    const values = Array.from({ length: 12 }, (_, k) => k); // 30 degrees each
    const path = wavePath(values, 30, x, (value) => value, 1);
    expect(path.startsWith("M0 0L15 1")).toBe(true);
    expect(path.endsWith("L360 1")).toBe(true);
    expect(wavePath([0, null, 2, ...Array.from({ length: 9 }, () => 1)], 30, x, (value) => value, 1).match(/M/g)).toHaveLength(2);
  });

  test("a dimension stands between where an edge belongs and where it is, inside the drawing", () => {
    expect(dimensionOf(hall({}), 2)).toBeNull();
    expect(dimensionOf(hall({ right_deg: 150, rise_deg: 268, dimension: true }), 2)).toEqual({ from: 150, to: 268 });
    expect(dimensionOf(hall({ right_deg: 30, rise_deg: 10, dimension: true }), 1)).toEqual({ from: 390, to: 370 });
    expect(dimensionOf(hall({ rise_deg: null, dimension: false }), 1)).toBeNull();
  });
});

describe("wires", () => {
  const cable = { what: "leads", places: ["U", "V", "W"], names: ["red", "black", ""], to: [2, 0, 1] };

  test("go straight now and where they belong after", () => {
    expect(wiresOf(cable, false).map(({ to }) => to)).toEqual([0, 1, 2]);
    expect(wiresOf(cable, true)).toEqual([{ from: 0, to: 2, name: "red" }, { from: 1, to: 0, name: "black" }, { from: 2, to: 1, name: "" }]);
  });

  test("are said with the person's words", () => {
    expect(plugSentence(cable)).toBe("leads: U red goes to W, V black goes to U, W goes to V.");
  });

  test("a name that is the place says it once", () => {
    expect([wireWords("U", "red"), wireWords("U", "lead U"), wireWords("U", "")]).toEqual(["U red", "lead U", "U"]);
  });

  test("torque fractions have their sign, and none at nothing", () => {
    expect([1, -0.508, 0.0021, -0.002].map(fractionWords)).toEqual(["+1.00", "\u22120.51", "0.00", "0.00"]);
  });
});

test("values that the plate knows are said to be the plate's, and who told it, until a person writes others", () => {
  const plate = { source: "board", pole_pairs: 7, rated_a: null, spacing_deg: 120 };
  expect(fromPlate(plate, { pole_pairs: 7, rated_a: null, spacing_deg: 120 })).toBe("From the plate that the board told: pole pairs, spacing of the sensors.");
  expect(fromPlate({ ...plate, source: "settings" }, { pole_pairs: 4, rated_a: 3, spacing_deg: 120 })).toBe("From the plate in the rig\u2019s settings: spacing of the sensors.");
  expect(fromPlate(plate, { pole_pairs: 4, rated_a: null, spacing_deg: 60 })).toBe("");
  expect(fromPlate({ ...plate, source: "" }, { pole_pairs: 7, rated_a: null, spacing_deg: 120 })).toBe("");
});
