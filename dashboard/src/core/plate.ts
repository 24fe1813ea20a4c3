/** What the plate says against what is measured. Pure. */
import type { Picture, Reading } from "./picture";
import { keyOf, placeOf } from "./shown";

const PHASES: readonly string[] = ["U", "V", "W", "L1", "L2", "L3"];
const LEADS: readonly string[] = ["U", "V", "W"];

/**
 * The current of the winding as a part of what the plate allows: of the phase leads the one that carries most, never
 * of the link that feeds a drive. Null where either is not known now.
 */
export function plateShare({ motor, readings }: Picture): number | null {
  const plate = motor.plate["current_a"];
  const currents = Object.entries(readings).filter(([id, reading]) => keyOf(id) === "current_rms_a" && known(reading));
  const leads = currents.filter(([id]) => LEADS.includes(placeOf(id)));
  const winding = leads.length || motor.type === "brushless" ? leads : currents.filter(([id]) => !placeOf(id) || PHASES.includes(placeOf(id)));
  if (!plate || !winding.length) return null;
  return Math.max(...winding.map(([, { value }]) => value as number)) / plate;
}

function known({ value, aged, confidence, least }: Reading): boolean {
  return typeof value === "number" && !aged && confidence !== "absent" && least === undefined;
}
