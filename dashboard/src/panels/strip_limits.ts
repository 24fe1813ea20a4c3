/** Which of the limits that a person set can be drawn in the strip: those that lie where its lines are. Pure. */
import type { Picture } from "../core/picture";
import { keyOf } from "../core/shown";
import type { StripLayout } from "./strip_layout";

export interface StripLimit {
  readonly role: "speed" | "current";
  readonly value: number;
  readonly y: number;
}

/** Of the speed and of the current of the far line. What lies outside the drawing is said in words elsewhere. */
export function stripLimits({ limits, far }: Picture, layout: StripLayout): StripLimit[] {
  const current = far.find((id) => keyOf(id).startsWith("current_")) ?? "";
  const foot = layout.currentY(0);
  const speeds = ends(limits["speed_rpm"]).map((value) => ({ role: "speed" as const, value, y: layout.speedY(value) }));
  const currents = ends(limits[current]).map((value) => ({ role: "current" as const, value, y: layout.currentY(value) }));
  return [...speeds.filter(({ y }) => y >= layout.top - 6 && y < layout.currentTop), ...currents.filter(({ y }) => y >= layout.currentTop && y <= foot)];
}

function ends(limit: readonly [number | null, number | null] | undefined): number[] {
  return [...(limit ?? [])].filter((end): end is number => end !== null);
}
