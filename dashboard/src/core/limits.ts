/** The limits that a person set: in words beside a reading. They raise no alarm. Pure. */
import { withUnit } from "./format";
import type { Picture } from "./picture";
import { RAD_S, speedWords } from "./units";
import { asGiven } from "./words";

/** "above 3 A, the limit you set"; "" while it is inside, has no limit or is not known. */
export function outside(id: string, picture: Picture, unit: string): string {
  const ends = picture.limits[id];
  const reading = picture.readings[id];
  if (!ends || !reading || typeof reading.value !== "number" || reading.confidence === "absent" || reading.aged) return "";
  const [low, high] = ends;
  const words = (end: number): string => `${limitWords(end, unit)}, the limit you set`;
  if (high !== null && reading.value > high) return `above ${words(high)}`;
  return low !== null && reading.value < low ? `below ${words(low)}` : "";
}

/** One end of a limit with its unit. */
export function limitWords(end: number, unit: string): string {
  return unit === RAD_S ? speedWords(end, unit) : withUnit(asGiven(end), unit);
}
