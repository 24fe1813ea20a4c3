/**
 * Speeds in the unit that a person wants. The service tells all speeds in r/min; here, before anything is shown, they become
 * what the rig's settings say, the sentences of the service too. Pure.
 */
import type { Picture, Quantity, Reading, Strip } from "./picture";
import { number, withUnit } from "./format";
import { keyOf } from "./shown";

export const RPM = "r/min";
export const RAD_S = "rad/s";
const RAD_S_OF_RPM = Math.PI / 30;

/** The quantity as it is shown: with the other unit one decimal more says as much. */
export function quantityIn(quantity: Quantity, unit: string): Quantity {
  return unit === RAD_S && quantity.unit === RPM ? { ...quantity, unit: RAD_S, digits: quantity.digits + 1 } : quantity;
}

/** A picture with all its speeds in its own unit; the strip is turned by itself, since the page keeps it for longer. */
export function pictureIn(picture: Picture): Picture {
  if (picture.speed_unit !== RAD_S) return picture;
  const speed_rpm = picture.motor.plate["speed_rpm"];
  const plate = speed_rpm === undefined ? picture.motor.plate : { ...picture.motor.plate, speed_rpm: speed_rpm * RAD_S_OF_RPM };
  return {
    ...picture,
    readings: mapped(picture.readings, (reading, id) => readingIn(reading, /_rpm$/.test(keyOf(id)))),
    limits: mapped(picture.limits, (ends, id) => (/_rpm$/.test(keyOf(id)) ? [scaled(ends[0]), scaled(ends[1])] as const : ends)),
    motor: { ...picture.motor, plate },
    events: picture.events.map((event) => ({ ...event, text: sentenceIn(event.text), detail: sentenceIn(event.detail) })),
  };
}

export function stripIn(strip: Strip, unit: string): Strip {
  if (unit !== RAD_S) return strip;
  const turned = (values: Float32Array): Float32Array => values.map((value) => value * RAD_S_OF_RPM);
  const { wide, rest, synchronous_speed_rpm } = strip;
  return {
    ...strip,
    wide: { ...wide, speed: turned(wide.speed) },
    rest: { ...rest, speed_low: turned(rest.speed_low), speed_high: turned(rest.speed_high) },
    synchronous_speed_rpm: scaled(synchronous_speed_rpm),
  };
}

/** What a value of the service is multiplied by to stand in the unit of this quantity as it is shown. */
export function rateOf({ key }: Pick<Quantity, "key">, unit: string): number {
  return unit === RAD_S && /_rpm$/.test(key) ? RAD_S_OF_RPM : 1;
}

/** A speed that is shown with its unit, in the digits that the unit asks for. */
export function speedWords(value: number, unit: string): string {
  return withUnit(number(value, unit === RAD_S ? 1 : 0), unit);
}

/** What of a reading is in its unit. */
const IN_UNIT: readonly string[] = ["value", "least", "u95", "low95", "high95"];

function readingIn(reading: Reading, isSpeed: boolean): Reading {
  const said = reading.reason ? { ...reading, reason: sentenceIn(reading.reason) } : reading;
  if (!isSpeed) return said;
  const turned = (value: unknown, name: string): unknown => (typeof value === "number" && IN_UNIT.includes(name) ? value * RAD_S_OF_RPM : value);
  return Object.fromEntries(Object.entries(said).map(([name, value]) => [name, turned(value, name)])) as unknown as Reading;
}

/** "95 % of 1380 r/min" -> "95 % of 144.5 rad/s". */
export function sentenceIn(text: string): string {
  return text.replace(/(\d+(?:\.\d+)?)([\s\u00a0])r\/min/g, (_, figure: string, space: string) => {
    const decimals = (figure.split(".")[1] ?? "").length + 1;
    return `${(Number(figure) * RAD_S_OF_RPM).toFixed(decimals)}${space}${RAD_S}`;
  });
}

function scaled(value: number | null): number | null {
  return value === null ? null : value * RAD_S_OF_RPM;
}

function mapped<T>(values: Readonly<Record<string, T>>, change: (value: T, id: string) => T): Record<string, T> {
  return Object.fromEntries(Object.entries(values).map(([id, value]) => [id, change(value, id)]));
}
