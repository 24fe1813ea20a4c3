/** The fundamentals as arrows: lengths, angles, names, and what they say in words. Pure. */
import { number, withUnit } from "./format";
import { phaseOf } from "./phases";
import type { Picture, Reading, Readings } from "./picture";
import { placeWords } from "./rows";
import { keyOf, placeOf, shortText } from "./shown";

export interface Arrow {
  readonly role: "voltage" | "current";
  readonly place: string; // "L1", "auxiliary", "" of the one supply
  readonly rms: number;
  readonly deg: number; // by which it leads the reference
  readonly length: number; // against the longest of its role, 0 to 1
  readonly mark: "" | "doubtful";
  readonly words: readonly [string, string]; // RMS and angle as they are written
}

export interface Diagram {
  readonly arrows: readonly Arrow[];
  readonly reason: string; // why there is none
}

const KEYS = { voltage: ["voltage_fundamental_v", "voltage_angle_deg"], current: ["current_fundamental_a", "current_angle_deg"] } as const;
const UNIT = { voltage: "V", current: "A" } as const;
const DIGITS = { voltage: 1, current: 3 } as const;

/** Whether this motor has arrows at all: known before the first of them is. */
export function hasPhasors(readings: Readings): boolean {
  return Object.keys(readings).some((id) => keyOf(id) === KEYS.voltage[0] || keyOf(id) === KEYS.current[0]);
}

export function diagram({ readings }: Pick<Picture, "readings">): Diagram {
  const ids = Object.keys(readings);
  const found = (["voltage", "current"] as const).flatMap((role) => {
    const its = ids.filter((id) => keyOf(id) === KEYS[role][0]).map((id) => arrow(readings, ids, id, role)).filter((each) => each !== null);
    const longest = Math.max(...its.map(({ rms }) => rms));
    return its.map((each): Arrow => ({ ...each, length: each.rms / longest }));
  });
  const order = found.sort((a, b) => (a.role === b.role ? a.place.localeCompare(b.place) : a.role === "voltage" ? -1 : 1));
  const absent = ids.filter((id) => keyOf(id) === KEYS.voltage[0] || keyOf(id) === KEYS.current[1]).map((id) => readings[id]!.reason);
  return { arrows: order, reason: order.length ? "" : (absent.find(Boolean) ?? "none yet") };
}

function arrow(readings: Readings, ids: readonly string[], id: string, role: Arrow["role"]): Omit<Arrow, "length"> | null {
  const behind = placeOf(id) && `.${placeOf(id)}`;
  const [rms, deg] = [usable(readings[id]), usable(readings[KEYS[role][1] + behind])];
  if (!rms || !deg || rms.least !== undefined) return null;
  const doubtful = [rms, deg].some(({ confidence }) => confidence === "doubtful");
  const words = [withUnit(shortText(rms, DIGITS[role]), UNIT[role]), `${shortText(deg, 1)}°`] as const;
  return { role, place: phaseOf(id, ids) || placeOf(id), rms: rms.value as number, deg: deg.value as number, mark: doubtful ? "doubtful" : "", words };
}

function usable(reading: Reading | undefined): Reading | null {
  return reading && typeof reading.value === "number" && reading.confidence !== "absent" && !reading.aged ? reading : null;
}

/** What the arrows say together: lag of each current, order and unbalance of three. */
export function phasorWords(picture: Pick<Picture, "readings">, { arrows }: Diagram): string[] {
  const { readings } = picture;
  const lags = arrows.filter(({ role }) => role === "current").map((current) => lagWords(current, arrows)).filter(Boolean);
  const sequences = (["voltage", "current"] as const).map((role) => sequenceWords(readings, role)).filter(Boolean);
  return sequences.length ? sequences : lags;
}

function lagWords(current: Arrow, arrows: readonly Arrow[]): string {
  const voltages = arrows.filter(({ role }) => role === "voltage");
  const voltage = voltages.find(({ place }) => place === current.place) ?? voltages.find(({ place }) => place === "");
  if (!voltage) return "";
  const deg = ((voltage.deg - current.deg + 540) % 360) - 180;
  const name = current.place ? `${placeWords(current.place)} ` : "";
  if (Math.abs(deg) < 0.05) return `current ${name}in phase`;
  return `current ${name}${deg > 0 ? "lags" : "leads"} by ${number(Math.abs(deg), 1)}°`;
}

function sequenceWords(readings: Readings, role: Arrow["role"]): string {
  const [order, part] = [readings[`${role}_phase_order`], usable(readings[`${role}_unbalance_percent`])];
  if (typeof order?.value !== "string" || order.aged) return "";
  const share = part && (part.least === undefined ? `, unbalance ${withUnit(shortText(part, 1), "%")}` : "");
  return `${role}s in the order ${order.value}${share ?? ""}`;
}
