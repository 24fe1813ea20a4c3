/** How far a line reaches, in the words that stand at its axis. Pure. */
import { below, rough } from "./format";
import type { Line } from "./picture";

/** Two peaks that differ by less are one figure with a ± before it. */
const EVEN = 0.02;

type Figures = Pick<Line, "peak" | "least" | "unit">;

export function signed(value: number, unit: string): string {
  const text = rough(value, unit);
  return value > 0 && /[1-9]/.test(text) ? `+${text}` : text;
}

/** "< 0.03 A" where the line goes no further than noise and offset of its channel may, else "". */
export function tooSmall({ peak, least, unit }: Figures): string {
  return Math.max(...peak.map(Math.abs)) < least ? below(least, unit) : "";
}

/** Both peaks in as few words as say them: "±326 V", "+36.1 V", "−0.50 to +9.60 A". */
export function spanWords(line: Figures): string {
  const { peak: [low, high], unit } = line;
  const small = tooSmall(line);
  if (small) return small;
  const [least, most] = [signed(low, unit), signed(high, unit)];
  if (least === most) return most;
  const size = Math.max(-low, high);
  if (low < 0 && high > 0 && Math.abs(low + high) < EVEN * size) return `±${rough(size, unit)}`;
  return `${signed(low, "")} to ${most}`;
}

/** One figure where there is room for no more: the largest swing, with its sign where it is to one side. */
export function largest(line: Figures): string {
  const { peak: [low, high], unit } = line;
  const small = tooSmall(line);
  if (small) return small;
  const size = Math.max(-low, high);
  const oneSided = low >= -0.5 * high || high <= -0.5 * low;
  return oneSided ? signed(-low > high ? low : high, unit) : `±${rough(size, unit)}`;
}
