import { describe, expect, it } from "vitest";
import { clock } from "./format";
import type { Quantity, Reading } from "./picture";
import { footnotes } from "./reasons";
import { find, inWords, isListed, keyOf, numberOf, placeOf, shown } from "./shown";

const CURRENT: Quantity = { key: "current_rms_a", symbol: "I", label: "current", unit: "A", digits: 3 };
const SLIP: Quantity = { key: "slip", symbol: "s", label: "slip", unit: "", digits: 4 };

function reading(value: Reading["value"], more: Partial<Reading> = {}): Reading {
  return { value, confidence: "good", reason: "", at_utc_s: 1_795_600_000, aged: "", ...more };
}

describe("a reading as it looks everywhere", () => {
  it("is number and unit when good", () => {
    expect(inWords(shown(CURRENT, reading(0.5516)))).toBe("0.552\u00a0A");
  });

  it("keeps its number and says the reason when doubtful", () => {
    const look = shown(CURRENT, reading(0.55, { confidence: "doubtful", reason: "6 frames lost" }));
    expect(look).toMatchObject({ mark: "doubtful", text: "0.550", why: "doubtful: 6 frames lost" });
  });

  it("is a dash without a unit when absent, never zero and never the last value", () => {
    const look = shown(CURRENT, reading(null, { confidence: "absent", reason: "no current channel" }));
    expect(look).toEqual({ mark: "absent", text: "–", unit: "", why: "absent: no current channel", title: "", plusMinus: "" });
    expect(shown(CURRENT, reading(0.55, { aged: "absent", reason: "no samples for 6 s" })).text).toBe("–");
    expect(shown(CURRENT, undefined).text).toBe("–");
  });

  it("says when it was true while it is stale", () => {
    expect(shown(CURRENT, reading(0.55, { aged: "stale" })).why).toBe(`was true at ${clock(1_795_600_000)}`);
  });

  it("is a lower bound when clipped samples went into an RMS", () => {
    const clipped = { confidence: "doubtful", reason: "the current is clipped" } as const;
    expect(shown(CURRENT, reading(28.1, clipped)).text).toBe("≥\u00a028.100");
    expect(shown({ ...CURRENT, key: "current_mean_a" }, reading(28.1, clipped)).text).toBe("28.100");
  });

  it("is an upper bound of the speed, and a lower one of the slip, when no edge comes any more", () => {
    const late = { confidence: "doubtful", reason: "no edge for 0.6 s: at most this" } as const;
    const speed: Quantity = { key: "speed_rpm", symbol: "n", label: "speed", unit: "r/min", digits: 0 };
    expect(inWords(shown(speed, reading(96, late)))).toBe("≤\u00a096\u00a0r/min");
    expect(inWords(shown(speed, reading(-96, late)))).toBe("≤\u00a096\u00a0r/min");
    expect(inWords(shown(SLIP, reading(0.936, late)))).toBe("≥\u00a093.6\u00a0%");
    expect(inWords(shown(speed, reading(96, { confidence: "doubtful", reason: "6 frames lost" })))).toBe("96\u00a0r/min");
  });

  it("is below what its channel can tell where it is no more than noise and offset, and says so", () => {
    const look = shown(CURRENT, reading(0.002, { least: 0.0193 }));
    expect(inWords(look)).toBe("<\u00a00.02\u00a0A");
    expect([look.mark, look.title]).toEqual(["", "below what its channel can tell from noise and offset"]);
    expect(shown(CURRENT, reading(0.552)).title).toBe("");
    expect(shown(CURRENT, reading(0.002, { least: 0.02, aged: "stale" })).text).toBe("<\u00a00.02");
  });

  it("ends where its uncertainty ends, and has it beside it, but for the far line", () => {
    const known = reading(2.25971, { u95: 0.01279 });
    expect(shown(CURRENT, known)).toMatchObject({ text: "2.260", plusMinus: "±0.013" });
    expect(shown(CURRENT, reading(2.25971, { u95: 0.31 }), false, true)).toMatchObject({ text: "2.3", plusMinus: "" });
    expect(shown(SLIP, reading(0.015019, { u95: 0.000056 }))).toMatchObject({ text: "1.502", unit: "%", plusMinus: "±0.006" });
  });

  it("writes several numbers with the digits of their quantity, a real minus, and the unit once behind the last", () => {
    const its = shown({ ...CURRENT, key: "sector_currents_a", digits: 2 }, reading([2.3104938271604937, -0.004, -2.2999999999999998, 1380.5]));
    expect(inWords(its)).toBe("2.31,\u2009\u20090.00,\u2009\u2009\u22122.30,\u2009\u20091\u202f380.50\u00a0A");
    const widths: Quantity = { key: "sector_widths_deg", symbol: "", label: "width of each sector", unit: "°", digits: 1 };
    expect(inWords(shown(widths, reading([59.94, 60.06])))).toBe("59.9,\u2009\u200960.1°");
    expect([isListed(its), isListed(shown(CURRENT, reading(2.31)))]).toEqual([true, false]);
  });

  it("has a dash in the place of one that is not known", () => {
    expect(shown(CURRENT, reading([1, NaN])).text).toBe("1.000,\u2009\u2009–");
  });

  it("shows slip in per cent", () => {
    expect(inWords(shown(SLIP, reading(0.0801)))).toBe("8.01\u00a0%");
    expect(inWords(shown(SLIP, reading(0.0801), true))).toBe("8.0\u00a0%");
  });
});

describe("ids", () => {
  it("are a key and a place", () => {
    expect([keyOf("current_rms_a.U"), placeOf("current_rms_a.U"), placeOf("slip")]).toEqual(["current_rms_a", "U", ""]);
  });

  it("are found without a place first, then at the first place", () => {
    const [u, bare] = [reading(1), reading(2)];
    expect(find({ "current_rms_a.U": u }, "current_rms_a")).toBe(u);
    expect(find({ "current_rms_a.U": u, current_rms_a: bare }, "current_rms_a")).toBe(bare);
  });

  it("give no number that may not be used", () => {
    expect(numberOf({ slip: reading(0.08, { aged: "absent" }) }, "slip")).toBeNull();
    expect(numberOf({ slip: reading(0.08) }, "slip")).toBe(0.08);
  });
});

it("says each reason once, in the order of the readings", () => {
  const look = (why: string): ReturnType<typeof shown> => ({ mark: why ? "absent" : "", text: "–", unit: "", why, title: "", plusMinus: "" });
  expect(footnotes([look("absent: a"), look(""), look("absent: b"), look("absent: a")])).toEqual(["absent: a", "absent: b"]);
});
