/**
 * Contrast of the colours by the formula of WCAG 2.2 (relative luminance and contrast ratio, from memory): 4.5 for
 * text and lines with meaning, 3 for edges of controls. And no colour is named outside tokens.css.
 */
import { describe, expect, it } from "vitest";

const SHEETS = import.meta.glob<string>("./*.css", { query: "?raw", import: "default", eager: true });
const SOURCES = import.meta.glob<string>(["../**/*.ts", "../**/*.tsx", "!../**/*.test.ts"], { query: "?raw", import: "default", eager: true });
const TOKENS = SHEETS["./tokens.css"]!;

function palette(theme: "light" | "dark"): Map<string, string> {
  const start = theme === "light" ? TOKENS.indexOf("color-scheme: light") : TOKENS.indexOf("color-scheme: dark");
  const block = TOKENS.slice(start, TOKENS.indexOf("}", start));
  return new Map([...block.matchAll(/--([\w-]+):\s*(#[0-9a-f]{3,6})/gi)].map((match) => [match[1]!, match[2]!]));
}

function luminance(hex: string): number {
  const full = hex.length === 4 ? [...hex.slice(1)].map((digit) => digit + digit) : hex.slice(1).match(/../g)!;
  const linear = full.map((pair) => {
    const part = parseInt(pair, 16) / 255;
    return part <= 0.04045 ? part / 12.92 : ((part + 0.055) / 1.055) ** 2.4;
  });
  return 0.2126 * linear[0]! + 0.7152 * linear[1]! + 0.0722 * linear[2]!;
}

function contrast(a: string, b: string): number {
  const [high, low] = [luminance(a), luminance(b)].sort((x, y) => y - x);
  return (high! + 0.05) / (low! + 0.05);
}

it("knows the contrast of black on white: 21 to 1", () => {
  expect(contrast("#000000", "#fff")).toBeCloseTo(21, 6);
});

describe.each(["light", "dark"] as const)("colours, %s", (theme) => {
  const colors = palette(theme);
  const of = (a: string, b: string): number => contrast(colors.get(a)!, colors.get(b)!);

  it.each(["ink", "ink-2", "voltage", "current", "speed", "power"])("%s reads on page, sheet and tint", (role) => {
    for (const ground of ["paper", "sheet", "tint"]) expect(of(role, ground), ground).toBeGreaterThanOrEqual(4.5);
  });

  it("words read on their blocks, and edges of controls are seen", () => {
    expect(of("on-alarm", "alarm")).toBeGreaterThanOrEqual(4.5);
    expect(of("on-caution", "caution")).toBeGreaterThanOrEqual(4.5);
    for (const ground of ["paper", "sheet"]) expect(of("rule-strong", ground), ground).toBeGreaterThanOrEqual(3);
  });
});

it("names no colour outside the tokens", () => {
  const named = /(?<!&)#[0-9a-f]{3,8}\b|\brgba?\(|\bhsla?\(|:\s*(white|black|red|green|blue|gr[ae]y|yellow|orange)\b/i;
  const others = Object.entries({ ...SHEETS, ...SOURCES }).filter(([path]) => path !== "./tokens.css");
  expect(others.length).toBeGreaterThan(40);
  expect(others.filter(([, text]) => named.test(text)).map(([path, text]) => `${path}: ${named.exec(text)?.[0]}`)).toEqual([]);
});
