/** The budget of a reading in words: each part with its share of the whole. Pure. */
import { DASH, number, withUnit } from "./format";

export interface Line {
  readonly source: string;
  readonly standard: string; // with its unit
  readonly share: string; // of the sum of the squares
  readonly bar: number; // length against the largest, 0 to 1
}

/** Less of the whole than this is not told by itself. */
const LEAST_PERCENT = 0.05;

/** `scale`: from the unit of the service to the one that is shown. Parts that are nothing are left out. */
export function budgetLines(parts: readonly { readonly source: string; readonly standard: number }[], unit: string, scale: number): Line[] {
  const there = parts.filter(({ standard }) => standard > 0);
  const total = there.reduce((sum, { standard }) => sum + standard * standard, 0);
  const largest = Math.max(...there.map(({ standard }) => standard));
  return there.map(({ source, standard }) => {
    const percent = (100 * standard * standard) / total;
    return {
      source,
      standard: figure(standard * scale, unit),
      share: percent < LEAST_PERCENT ? `<\u00a0${withUnit(number(0.1, 1), "%")}` : withUnit(number(percent, percent < 9.95 ? 1 : 0), "%"),
      bar: standard / largest,
    };
  });
}

/** A standard uncertainty: two digits, however small. */
export function figure(value: number, unit: string): string {
  if (!(value > 0)) return DASH;
  const size = Math.floor(Math.log10(value));
  if (size >= -6) return withUnit(number(value, Math.max(0, 1 - size)), unit);
  return withUnit(`${number(value / 10 ** size, 1)}\u00a0×\u00a010${raised(size)}`, unit);
}

const RAISED = "⁰¹²³⁴⁵⁶⁷⁸⁹";

function raised(power: number): string {
  return (power < 0 ? "⁻" : "") + [...String(Math.abs(power))].map((digit) => RAISED[Number(digit)]).join("");
}
