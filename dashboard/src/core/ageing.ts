/**
 * How old the picture is, and what follows. The service ages each reading by its channel's own
 * interval; this is for the time after the last message, when nobody else can. Clocks of page and
 * service are never compared: the page counts from the moment a picture came.
 */
import type { Picture, Reading, Readings } from "./picture";

export const STALE_S = 1;
export const TOO_OLD_S = 5 * STALE_S;

/** Seconds since the newest sample in the picture was taken; null when there is none. */
export function sampleAge(picture: Picture, received_ms: number, now_ms: number): number | null {
  if (picture.sample_utc_s === null) return null;
  return picture.now_utc_s - picture.sample_utc_s + silence(received_ms, now_ms);
}

/** Seconds since the last message came. */
export function silence(received_ms: number, now_ms: number): number {
  return Math.max(0, (now_ms - received_ms) / 1000);
}

export function ageOf(seconds: number): "" | "stale" | "absent" {
  return seconds > TOO_OLD_S ? "absent" : seconds > STALE_S ? "stale" : "";
}

/** The readings as they may be shown after this long without a message; the same object while it is short. */
export function agedReadings(readings: Readings, silence_s: number): Readings {
  const aged = ageOf(silence_s);
  if (!aged) return readings;
  const reason = "no message from the service";
  const age = (reading: Reading): Reading =>
    reading.aged === "absent" || reading.confidence === "absent" ? reading : { ...reading, aged, reason };
  return Object.fromEntries(Object.entries(readings).map(([id, reading]) => [id, age(reading)]));
}
