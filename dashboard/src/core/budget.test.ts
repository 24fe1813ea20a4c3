/** The budget in words: shares of the sum of the squares (JCGM 100, 5.1.2), largest line full. */
import { describe, expect, it } from "vitest";
import { budgetLines, figure } from "./budget";

const plain = (text: string): string => text.replace(/[\u00a0\u2009]/g, " ");

describe("the parts of a budget", () => {
  it("have shares that add up to the whole, and lines as long as they are", () => {
    const lines = budgetLines([{ source: "gain", standard: 0.004 }, { source: "noise", standard: 0.003 }, { source: "steps", standard: 0 }], "A", 1);
    expect(lines.map(({ source, share, bar }) => [source, plain(share), bar])).toEqual([["gain", "64 %", 1], ["noise", "36 %", 0.75]]);
    expect(lines.map(({ standard }) => plain(standard))).toEqual(["0.0040 A", "0.0030 A"]);
  });

  it("are told in the unit that is shown", () => {
    expect(plain(budgetLines([{ source: "board's clock", standard: 0.00028 }], "%", 100)[0]!.standard)).toBe("0.028 %");
  });

  it("say less than, where a share is too small for a figure", () => {
    const [, small] = budgetLines([{ source: "gain", standard: 1 }, { source: "offset", standard: 0.01 }], "V", 1);
    expect(plain(small!.share)).toBe("< 0.1 %");
  });
});

it("writes a very small figure as a power of ten", () => {
  expect(plain(figure(7.62e-8, "A"))).toBe("7.6 × 10⁻⁸ A");
  expect([figure(0, "A"), plain(figure(12.3, "V"))]).toEqual(["–", "12 V"]);
});
