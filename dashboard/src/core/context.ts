/** The small line below each far number: what makes it mean something. */
import { number, withUnit } from "./format";
import { linesWords, mainPhase } from "./phases";
import type { Picture, Readings } from "./picture";
import { plateShare } from "./plate";
import { find, keyOf, numberOf as anyNumberOf, shortText } from "./shown";
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

/** The same, in the digits of the far line; `digits` and `scale` where the picture does not say them. */
function shortOf(readings: Readings, key: string, digits: number, scale = 1): string {
  const value = numberOf(readings, key);
  const reading = find(readings, key)!;
  return value === null ? "" : reading.steadied ? shortText(reading, digits) : number(value * scale, digits);
}

/** So small a line has no room for doubt: what is doubtful stands with the readings alone. */
function numberOf(readings: Readings, key: string): number | null {
  return find(readings, key)?.confidence === "doubtful" ? null : anyNumberOf(readings, key);
}

function speed(picture: Picture): string {
  const slip = shortOf(picture.readings, "slip", 2, 100);
  const ns = numberOf(picture.readings, "synchronous_speed_rpm");
  if (slip && ns !== null) return `slip ${withUnit(slip, "%")} of ${speedWords(ns, picture.speed_unit)}`;
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
  if (!plate) return [mainPhase(picture), "no plate current given"].filter(Boolean).join("; ");
  return phased(picture, [part && mainPhase(picture) ? `highest ${part}` : part || "plate", withUnit(asGiven(plate), "A")].join(part ? ", " : " "));
}

/** Of three phases one stands in the far line: it says which. */
function phased(picture: Picture, words: string): string {
  return [mainPhase(picture), words].filter(Boolean).join("; ");
}

/** The far line of a drive has the order of the states in the place of its supply: the volts stand with the current. */
function supplyWords(readings: Readings): string {
  const volts = find(readings, "voltage_mean_v")?.least === undefined ? numberOf(readings, "voltage_mean_v") : null;
  return volts === null ? "" : withUnit(number(volts, 1), "V");
}

function voltage(picture: Picture): string {
  const f = shortOf(picture.readings, "frequency_hz", 2);
  const lines = linesWords(picture);
  if (lines || mainPhase(picture)) return [mainPhase(picture), lines, f && withUnit(f, "Hz")].filter(Boolean).join("; ");
  if (f) return withUnit(f, "Hz");
  const plate = picture.motor.plate["voltage_v"];
  return plate === undefined ? "" : `plate ${withUnit(asGiven(plate), "V")}`;
}

function power(picture: Picture): string {
  const factor = shortOf(picture.readings, "power_factor", 3);
  const phi = numberOf(picture.readings, "phase_angle_deg") ?? 0;
  if (picture.motor.type === "brushless") return "from the supply";
  const all = "active_power_w.L1" in picture.readings ? "all phases, " : "";
  return !factor ? "" : `${all}power factor ${factor} ${phi < 0 ? "leading" : "lagging"}`;
}
