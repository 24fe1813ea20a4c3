/** Value and interval of an opened reading as a dimension: the ends where they are, the value between them. */
import type { JSX } from "preact";
import { number, withUnit } from "../core/format";
import type { Quantity, Reading } from "../core/picture";
import { decimalsOf } from "../core/rounding";
import type { Shown } from "../core/shown";
import { intervalOf, scaleOf } from "../core/steadied";

const [LEFT, RIGHT] = [12, 88]; // per cent of the width

export function Range({ reading, quantity, look }: { reading: Reading; quantity: Quantity; look: Shown }): JSX.Element | null {
  const interval = look.mark === "absent" ? null : intervalOf(reading, scaleOf(quantity));
  if (!interval) return null;
  const { low, high, half } = interval;
  const value = (reading.value as number) * scaleOf(quantity);
  const at = `${LEFT + ((RIGHT - LEFT) * (value - low)) / (high - low)}%`;
  const write = (end: number): string => withUnit(number(end, Math.max(0, decimalsOf(half))), look.unit);
  return (
    <svg class="range" aria-hidden="true">
      {[LEFT, RIGHT].map((x) => <line key={x} x1={`${x}%`} x2={`${x}%`} y1="4" y2="22" />)}
      <line x1={`${LEFT}%`} x2={`${RIGHT}%`} y1="13" y2="13" />
      <circle cx={at} cy="13" r="5" />
      <text x={`${LEFT}%`} y="38">{write(low)}</text>
      <text x={`${RIGHT}%`} y="38">{write(high)}</text>
    </svg>
  );
}
