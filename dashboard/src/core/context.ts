/** The small line below each far number: what makes it mean something. */
import { number, slipPercent, withUnit } from "./format";
import type { Picture, Readings } from "./picture";
import { plateShare } from "./plate";
import { find, isStarting, keyOf, numberOf as anyNumberOf } from "./shown";
import { speedWords } from "./units";
import { asGiven } from "./words";

type Context = (picture: Picture) => string;

/** By the key of the number above; what is not here has no context. */
const CONTEXTS: Readonly<Record<string, Context>> = {
  speed_rpm: speed,
  current_rms_a: current,
  current_mean_a: current,
  voltage_rms_v: voltage,
  voltage_mean_v: voltage,
  active_power_w: power,
};

export function farContext(id: string, picture: Picture): string {
  return CONTEXTS[keyOf(id)]?.(picture) || "\u00a0"; // keeps its line, so that nothing jumps
}

/** So small a line has no room for doubt: what is doubtful stands with the readings alone. */
function numberOf(readings: Readings, key: string): number | null {
  return find(readings, key)?.confidence === "doubtful" ? null : anyNumberOf(readings, key);
}

function speed(picture: Picture): string {
  const slip = numberOf(picture.readings, "slip");
  const ns = numberOf(picture.readings, "synchronous_speed_rpm");
  if (slip !== null && ns !== null) return `slip ${withUnit(slipPercent(slip, isStarting(picture.readings)), "%")} of ${speedWords(ns, picture.speed_unit)}`;
  const direction = find(picture.readings, "direction")?.value;
  if (direction === "forward" || direction === "backward") return `turning ${direction}`;
  const plate = picture.motor.plate["speed_rpm"];
  return plate === undefined ? "" : `plate ${speedWords(plate, picture.speed_unit)}`;
}

/** A plate gives the current of the winding: what a drive draws from its link is another one. */
function current(picture: Picture): string {
  const plate = picture.motor.plate["current_a"];
  const share = plateShare(picture);
  const part = share === null ? "" : `${withUnit(number(share * 100), "%")} of the plate`;
  if (picture.motor.type === "brushless") {
    const supply = supplyWords(picture.readings);
    return plate && share !== null ? `${supply || "supply"}; phase ${withUnit(number(share * plate, 1), "A")}, ${part}` : supply ? `from ${supply}` : "supply current";
  }
  if (!plate) return "no plate current given";
  return [part || "plate", withUnit(asGiven(plate), "A")].join(part ? ", " : " ");
}

/** The far line of a drive has the order of the states in the place of its supply: the volts stand with the current. */
function supplyWords(readings: Readings): string {
  const volts = find(readings, "voltage_mean_v")?.least === undefined ? numberOf(readings, "voltage_mean_v") : null;
  return volts === null ? "" : withUnit(number(volts, 1), "V");
}

function voltage(picture: Picture): string {
  const f = numberOf(picture.readings, "frequency_hz");
  if (f !== null) return withUnit(number(f, 2), "Hz");
  const plate = picture.motor.plate["voltage_v"];
  return plate === undefined ? "" : `plate ${withUnit(asGiven(plate), "V")}`;
}

function power(picture: Picture): string {
  const factor = numberOf(picture.readings, "power_factor");
  const phi = numberOf(picture.readings, "phase_angle_deg") ?? 0;
  if (picture.motor.type === "brushless") return "from the supply";
  return factor === null ? "" : `power factor ${number(factor, 3)} ${phi < 0 ? "leading" : "lagging"}`;
}
