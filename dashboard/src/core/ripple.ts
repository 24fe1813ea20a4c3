/** Mean and ripple of a line of direct current. Pure. */
import { number, rough, withUnit } from "./format";
import type { Line, Readings } from "./picture";
import { shortText } from "./shown";

export interface Ripple {
  readonly line: Line;
  readonly value: number; // the mean
  readonly mean: string;
  readonly swing: string; // from lowest to highest sample
  readonly percent: number | null; // of the mean; null where the swing may be noise alone
}

const MEAN = { voltage: "voltage_mean_v", current: "current_mean_a" } as const;
/** A line that swings more than this about its mean is no direct current with a ripple. */
const MOST_PERCENT = 300;

/** Null where the mean is not good, too small to tell, or not what the line is about. */
export function rippleOf(line: Line, readings: Readings): Ripple | null {
  const reading = readings[MEAN[line.role as keyof typeof MEAN] ?? ""];
  if (!reading || typeof reading.value !== "number" || reading.confidence !== "good" || reading.aged || reading.least !== undefined) return null;
  const swing = line.peak[1] - line.peak[0];
  const percent = (100 * swing) / Math.abs(reading.value);
  if (!(percent < MOST_PERCENT) || line.clipped) return null;
  const tells = swing > 2 * line.least;
  const mean = withUnit(reading.steadied ? shortText(reading, 2) : number(reading.value, 2), line.unit);
  return { line, value: reading.value, mean, swing: tells ? rough(swing, line.unit) : `<\u00a0${rough(2 * line.least, line.unit)}`, percent: tells ? percent : null };
}
