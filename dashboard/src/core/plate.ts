/** What the plate says against what is measured. Pure. */
import { number, withUnit } from "./format";
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

/** From here on a voltage hurts: extra-low voltage ends at 60 V direct, 25 V alternating in the open (IEC 61140, from memory). */
const LOW_V = { direct: 60, alternating: 25 } as const;

/** What the motor's side is, by its plate, and what follows: the first few words, and the rest. Without a plate the worst holds. */
export function motorSide(volts: number | null, hertz: number | null): readonly [string, string] {
  const work = "Nothing on that side is touched or rewired before it is";
  const licence = "Where a licence is asked for such work, its holder does it.";
  const alternating = hertz !== null;
  if (volts === null) return ["Mains, perhaps, on the motor side.", `The plate says no voltage. ${work} unplugged and has come to rest. ${licence}`];
  const plate = `${withUnit(number(volts, volts % 1 ? 1 : 0), "V")}`;
  if (volts > (alternating ? LOW_V.alternating : LOW_V.direct)) {
    const what = alternating ? `Mains (${plate})` : `${plate} direct`;
    return [`${what} on the motor side.`, `${work} ${alternating ? "unplugged" : "off, its capacitors are empty"} and has come to rest. ${licence}`];
  }
  return [`${plate} on the motor side.`, `A short can burn, a motor can start, and one that turns makes voltage: ${work.toLowerCase()} off and has come to rest.`];
}
