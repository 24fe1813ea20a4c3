/**
 * The plate beside what was measured. Voltage within 10 % of the plate (IEC 60038: the range of a supply; from memory),
 * frequency within 2 % (IEC 60034-1, zone A; from memory), the current not more than a tenth above it (ours), poles by the
 * largest synchronous speed that the shaft stays below. A plate's current and speed are those of its load: less current and
 * another speed contradict nothing. Only of a motor that runs: nothing else is what the plate speaks of. Pure.
 */
import { number, withUnit } from "./format";
import type { Picture } from "./picture";
import { plateShare } from "./plate";
import { find, numberOf } from "./shown";
import { speedWords } from "./units";
import { asGiven } from "./words";

const VOLTAGE_PART = 0.1;
const FREQUENCY_PART = 0.02;
const CURRENT_PART = 0.1;

/** Types whose shaft follows the field: from frequency and speed follow the poles. */
const FOLLOWS: readonly string[] = [
  "permanent_split_capacitor", "split_phase", "capacitor_start", "shaded_pole", "three_phase_induction", "synchronous", "synchronous_reluctance",
];
/** Their plate may give the voltage between two lines where one to neutral is measured. */
const THREE_PHASE: readonly string[] = ["three_phase_induction", "synchronous", "synchronous_reluctance"];
const IN_STEP = 1e-3; // a synchronous speed is exact; its measure is not

export interface Compared {
  readonly said: string; // "230 V", or "" where the plate does not say
  readonly words: string; // "agrees", "measured 4 poles", "" where nothing can be said
  readonly odd: boolean; // plate and measure contradict each other
}

/** One value of the plate by its key. */
export function compared(key: string, unit: string, picture: Picture): Compared {
  const plate = picture.motor.plate[key];
  const said = plate === undefined ? "" : written(key, plate, unit, picture);
  const measured = picture.readings["run_state"]?.value === "running" ? MEASURES[key]?.(picture) : undefined;
  if (!measured) return { said, words: "", odd: false };
  const [words, agrees] = measured;
  if (plate === undefined) return { said, words: `measured ${words}`, odd: false };
  if (agrees === null) return { said, words: `now ${words}`, odd: false };
  return agrees ? { said, words: `agrees: ${words}`, odd: false } : { said, words: `the plate says ${said}, measured ${words}`, odd: true };
}

function written(key: string, plate: number, unit: string, picture: Picture): string {
  if (key === "speed_rpm") return speedWords(plate, picture.speed_unit);
  return key === "pole_pairs" ? `${2 * plate} poles` : withUnit(asGiven(plate), unit);
}

/** What was measured, and whether it agrees; null: they may well differ. */
type Measure = (picture: Picture) => readonly [string, boolean | null] | undefined;

const MEASURES: Readonly<Record<string, Measure>> = {
  voltage_v: (picture) => {
    const volts = ["voltage_rms_v", "voltage_mean_v"].map((id) => (id in picture.readings ? good(picture, id) : null)).find((value) => value !== null);
    if (volts === undefined || volts === null) return undefined;
    const lines = THREE_PHASE.includes(picture.motor.type) && near(volts * Math.sqrt(3), picture, "voltage_v", VOLTAGE_PART);
    return [withUnit(number(volts, 1), "V") + (lines ? " to neutral" : ""), lines || near(volts, picture, "voltage_v", VOLTAGE_PART)];
  },
  frequency_hz: (picture) => {
    const hertz = good(picture, "frequency_hz");
    return hertz === null ? undefined : [withUnit(number(hertz, 2), "Hz"), near(hertz, picture, "frequency_hz", FREQUENCY_PART)];
  },
  current_a: (picture) => {
    const share = plateShare(picture);
    const plate = picture.motor.plate["current_a"];
    if (share === null || plate === undefined) return undefined;
    return [withUnit(number(share * plate, 2), "A"), share < 1 - CURRENT_PART ? null : share <= 1 + CURRENT_PART];
  },
  speed_rpm: (picture) => {
    const speed = good(picture, "speed_rpm");
    return speed === null ? undefined : [speedWords(speed, picture.speed_unit), null];
  },
  pole_pairs: (picture) => {
    const pairs = polePairs(picture);
    return pairs === null ? undefined : [`${2 * pairs} poles`, (picture.motor.plate["pole_pairs"] ?? pairs) === pairs];
  },
};

/** The largest whole number of pole pairs whose field is not slower than the shaft; null where it cannot be told. */
export function polePairs(picture: Picture): number | null {
  const [hertz, speed] = [good(picture, "frequency_hz"), good(picture, "speed_rpm")];
  if (!FOLLOWS.includes(picture.motor.type) || hertz === null || speed === null || speed <= 0) return null;
  const turns = picture.speed_unit === "rad/s" ? speed / (2 * Math.PI) : speed / 60;
  return Math.floor((hertz / turns) * (1 + IN_STEP)) || null;
}

function good(picture: Picture, key: string): number | null {
  return find(picture.readings, key)?.confidence === "good" ? numberOf(picture.readings, key) : null;
}

function near(value: number, picture: Picture, key: string, part: number): boolean {
  const plate = picture.motor.plate[key];
  return plate === undefined || Math.abs(value - plate) <= part * plate;
}
