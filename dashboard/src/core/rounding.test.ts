/** Digits by the uncertainty, held against the rule itself over many seeded cases. */
import { describe, expect, it } from "vitest";
import type { Quantity, Reading } from "./picture";
import { type Interval, type Rounded, decimalsOf, plusMinus, rounded, writtenAs } from "./rounding";
import { Steady, steadiedOf } from "./steadied";

/** Numbers in [0, 1) that are the same in each run (Park and Miller 1988). */
function seeded(seed: number): () => number {
  let state = seed;
  return () => (state = (state * 48271) % 2147483647) / 2147483647;
}

function gauss(random: () => number): number {
  return Math.sqrt(-2 * Math.log(random() || 0.5)) * Math.cos(2 * Math.PI * random());
}

const about = (value: number, half: number): Interval => ({ half, low: value - half, high: value + half });
const read = (text: string): number => Number(text.replace(/\u2212/g, "-").replace(/[^\d.-]/g, ""));
const table = (value: number, half: number, kept?: Rounded): Rounded => rounded(value, about(value, half), 3, false, kept);

describe("a value beside what it may be off by", () => {
  it("has one digit of ±, two where the first is 1 or 2 (JCGM 100, 7.2.6: two at most; the choice is ours)", () => {
    const shown = (value: number, half: number): string => [writtenAs(table(value, half)), plusMinus(table(value, half))].join(" ").replace(/\u2009/g, " ");
    expect(shown(231.2945, 0.52)).toBe("231.3 ±0.6");
    expect(shown(2.259716, 0.01279)).toBe("2.260 ±0.013");
    expect(shown(1435.2, 410)).toBe("1 400 ±500");
    expect(shown(49.99931, 0.00283)).toBe("49.9993 ±0.0028");
    expect(shown(-0.14664, 0.1658)).toBe("\u22120.15 ±0.17");
  });

  it("writes ± as the examples of JCGM 100, 7.2.6 (from memory): 10.47 is rounded up to 11, 28.05 down to 28", () => {
    expect([10.47, 28.05].map((half) => plusMinus(table(1000, half)))).toEqual(["±11", "±28"]);
  });

  it("has both ends where a bound cuts the interval", () => {
    const cut = rounded(0.00621, { half: 0.00571, low: 0, high: 0.01142 }, 3, false);
    expect([writtenAs(cut), plusMinus(cut)]).toEqual(["0.006", "0 to 0.012"]);
    const near = rounded(0.9998, { half: 0.0006, low: 0.9988, high: 1 }, 3, false);
    expect([writtenAs(near), plusMinus(near)]).toEqual(["0.9998", "0.9988 to 1.0000"]);
  });

  it("lies within its interval and has no more than two digits of ±, whatever value and width", () => {
    const random = seeded(7);
    const wrong: unknown[] = [];
    for (let k = 0; k < 20_000; k++) {
      const half = 10 ** (-6 + 9 * random());
      const value = (random() - 0.5) * 10 ** (8 * random() - 2);
      const [low, high] = random() < 0.3 ? [value - half * random() * 0.5, value + half] : [value - half, value + half];
      const interval = { half: (high - low) / 2, low, high };
      const kept = random() < 0.5 ? rounded(value + (random() - 0.5) * half, about(value, half * (0.3 + 2 * random())), 3, false) : undefined;
      const found = rounded(value, interval, 3, false, kept, half * random());
      const text = read(writtenAs(found));
      const give = 1e-12 * Math.abs(value) + 1e-9 * half;
      const steps = interval.half * 10 ** found.decimals;
      if (!(text >= low - give && text <= high + give && steps >= 0.99 && steps < 100)) wrong.push([value, interval, found]);
    }
    expect(wrong).toEqual([]);
  });

  it("never says less than it may be off by, by more than a fiftieth", () => {
    const random = seeded(11);
    const halves = Array.from({ length: 5000 }, () => 10 ** (-5 + 8 * random()));
    expect(halves.filter((half) => !(read(plusMinus(table(3.3, half))) >= 0.98 * half * (1 - 1e-9)))).toEqual([]);
  });

  it("keeps its digits while ± goes to and fro over a step of them", () => {
    expect(decimalsOf(0.031)).toBe(2);
    expect(decimalsOf(0.029)).toBe(3);
    expect([0.031, 0.029, 0.04, 0.022].map((half) => decimalsOf(half, 3))).toEqual([3, 3, 3, 3]);
    expect([0.031, 0.029].map((half) => decimalsOf(half, 2))).toEqual([2, 2]);
    expect([decimalsOf(0.05, 3), decimalsOf(0.015, 2)]).toEqual([2, 3]);
  });
});

describe("what it may be off by", () => {
  it("stands still while it says enough and not far too much, as two ends too", () => {
    const first = table(231.3, 0.6);
    const texts = [0.55, 0.45, 0.58, 0.32].map((half) => plusMinus(table(231.3, half, first)));
    expect(texts).toEqual(["±0.6", "±0.6", "±0.6", "±0.4"]);
    expect(plusMinus(table(231.3, 0.75, first))).toBe("±0.8");
    const ends = rounded(0.0004, { half: 0.0006, low: 0, high: 0.0012 }, 3, false, rounded(0.0005, { half: 0.0007, low: 0, high: 0.0014 }, 3, false));
    expect(plusMinus(ends)).toBe("0 to 0.0014");
  });

  it("is never below the largest of the last windows, where few edges tell it", () => {
    const steady = new Steady();
    const told = [0.8, 0.1, 0.3, 0.05, 0.1, 0.1, 0.1].map((u95) => {
      const reading: Reading = { value: 1380, confidence: "good", reason: "", at_utc_s: 0, aged: "", u95 };
      return plusMinus(steady.take({ voltage_rms_v: reading }, () => VOLTS, false)["voltage_rms_v"]!.steadied!.table);
    });
    expect(told.slice(0, 5)).toEqual(Array(5).fill("±0.8"));
    expect(read(told[5]!)).toBeLessThan(0.5);
  });
});

const VOLTS: Quantity = { key: "voltage_rms_v", symbol: "U", label: "voltage, RMS", unit: "V", digits: 1 };

function textsOf(values: readonly number[], u95?: number, part: "table" | "short" = "table"): string[] {
  const steady = new Steady();
  return values.map((value) => {
    const reading: Reading = { value, confidence: "good", reason: "", at_utc_s: 0, aged: "", ...(u95 === undefined ? {} : { u95 }) };
    return writtenAs(steady.take({ voltage_rms_v: reading }, () => VOLTS, false)["voltage_rms_v"]!.steadied![part]);
  });
}

/** After the first few, by which the noise is known. */
const changes = (texts: readonly string[]): number => texts.slice(10).filter((text, k) => text !== texts[k + 9]).length;

describe("the last digit", () => {
  const noisy = (middle: number, sigma: number, seed: number): number[] => {
    const random = seeded(seed);
    return Array.from({ length: 600 }, () => middle + sigma * gauss(random));
  };

  it("stands still under noise well below it, also where the value lies between two of them", () => {
    expect(changes(textsOf(noisy(231.35, 0.01, 3), 0.52))).toBeLessThanOrEqual(1);
    expect(changes(textsOf(noisy(231.35, 0.01, 3)))).toBeLessThanOrEqual(1);
    expect(changes(textsOf(noisy(231.35, 0.02, 5), 0.52, "short"))).toBeLessThanOrEqual(1);
  });

  it("dances far less than plain rounding where the noise is a good part of ±", () => {
    const values = noisy(231.31, 0.1, 9);
    const plain = changes(values.map((value) => value.toFixed(1)));
    expect(plain).toBeGreaterThan(300);
    expect(changes(textsOf(values, 0.52))).toBeLessThan(plain / 10);
  });

  it("follows a step at once, however still it stood", () => {
    expect(textsOf([...noisy(231.35, 0.01, 3).slice(0, 50), 230.9, 230.9], 0.52).slice(-2)).toEqual(["230.9", "230.9"]);
  });

  it("follows what creeps: never further off than its interval", () => {
    const values = Array.from({ length: 300 }, (_, k) => 230 + 0.02 * k);
    textsOf(values, 0.52).forEach((text, k) => expect(Math.abs(Number(text) - values[k]!)).toBeLessThanOrEqual(0.52));
  });
});

it("an energy that has just begun has no more digits than the catalogue gives it, and ± is rounded up to them", () => {
  const quantity = { key: "energy_wh", symbol: "W", label: "energy", unit: "Wh", digits: 3 } as Quantity;
  const shown = (value: number, u95: number | null): string => {
    const { table: written } = steadiedOf(quantity, { value, u95, confidence: "good" } as Reading, true);
    return [writtenAs(written), plusMinus(written)].join(" ").trim();
  };
  expect(shown(0.000134, 0.0000021)).toBe("0.000 ±0.001");
  expect(shown(0.0091, 0.00019)).toBe("0.009 ±0.001");
  expect(shown(0.0091, null)).toBe("0.009");
  expect(shown(12.3456, 0.19)).toBe("12.35 ±0.19");
});
