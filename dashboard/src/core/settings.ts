/** The settings of a rig as the service tells and takes them (server/settings/SETTINGS.md), and the fields of their forms. Pure. */

import type { AlarmSettings, Calling } from "./alarms";

export interface Settings {
  readonly name: string;
  readonly port: string;
  readonly baud: number;
  readonly motor: { readonly name: string; readonly type: string; readonly plate: Plate } | null;
  readonly stopped_rpm: number;
  readonly start_time_limit_s: number;
  readonly rest_closes_run_s: number;
  readonly speed_unit: string;
  readonly channels: Readonly<Record<string, { readonly role: string; readonly place: string }>>;
  readonly alarms: Readonly<Record<string, AlarmSettings>>;
  readonly calling: Calling;
  readonly space: Space;
  readonly limits: Readonly<Record<string, { readonly low: number | null; readonly high: number | null }>>;
}

/** What may be given up of raw samples when room gets short. */
export interface Space {
  readonly thin_raw: "agreed" | "";
  readonly around_s: number;
  readonly each_hour_s: number;
}

export type Plate = Readonly<Record<string, number | null>>;

/** A rig as `GET /api/rigs/NAME` tells it, as far as the Rig screen asks. */
export interface KeptRig {
  readonly name: string;
  readonly demo: boolean;
  readonly file: string; // "": nothing is kept
  readonly refusal: string; // why the file cannot be used, or ""
  readonly undo: boolean;
  readonly motor: { readonly name: string; readonly type: string; readonly plate: Plate }; // as it holds, whoever said it
  readonly settings: Settings;
}

export interface MotorType {
  readonly type: string;
  readonly label: string;
  readonly supply: "alternating" | "direct";
}

/** One field of a form. `key` is the setting's, as a refusal names it. */
export interface Field {
  readonly key: string;
  readonly label: string;
  readonly unit?: string;
  readonly number?: boolean;
  readonly choices?: readonly (readonly [string, string])[]; // value and words
  readonly hint?: string; // what holds where nothing is said
  readonly asked?: (given: Given, before: Given) => boolean; // the others ask for it, or it was said; without: it always stands there
}

/** What a form still lacks: the key of the field that says so, and the sentence; null: it can be sent. The service judges again. */
export type Lacks = (given: Given) => readonly [key: string, sentence: string] | null;

export type Given = Readonly<Record<string, string>>; // by the key of the field, as it was typed

export const PLATE: readonly (readonly [key: string, label: string, unit: string])[] = [
  ["voltage_v", "Voltage", "V"],
  ["frequency_hz", "Frequency", "Hz"],
  ["current_a", "Current", "A"],
  ["speed_rpm", "Speed", "r/min"],
  ["pole_pairs", "Pole pairs", ""],
  ["power_w", "Power", "W"],
  ["run_capacitor_uf", "Run capacitor", "µF"],
  ["locked_rotor_current_a", "Locked-rotor current", "A"],
  ["hall_spacing_deg", "Hall spacing", "°"],
];

const ALTERNATING: readonly string[] = ["frequency_hz", "run_capacitor_uf"]; // no plate of a motor for direct current says them

export const ROLES = ["voltage", "current", "temperature", "speed", "position", "command", "other"] as const;

export const RIG_FIELDS: readonly Field[] = [
  { key: "rig.name", label: "Name" },
  { key: "rig.port", label: "Port", hint: "a device or socket://HOST:PORT" },
  { key: "rig.baud", label: "Baud", number: true },
  { key: "rig.stopped_rpm", label: "Stands below", unit: "r/min", number: true },
  { key: "rig.start_time_limit_s", label: "A start takes at most", unit: "s", number: true },
  { key: "rig.rest_closes_run_s", label: "A run closes after rest of", unit: "s", number: true },
];

export function motorFields(types: readonly MotorType[]): readonly Field[] {
  const type = types.map((each) => [each.type, each.label] as const);
  return [
    { key: "motor.name", label: "Name" },
    { key: "motor.type", label: "Type", choices: [["", "not said"], ...type] },
    ...PLATE.map(([key, label, unit]): Field => {
      const field = { key: `motor.plate.${key}`, label, unit };
      if (key === "hall_spacing_deg") return { ...field, choices: [["120", "120"], ["60", "60"]], asked: (given) => given["motor.type"] === "brushless" };
      const number: Field = { ...field, number: true };
      return ALTERNATING.includes(key) ? { ...number, asked: (given, before) => Boolean(before[field.key]) || supplyOf(given, types) !== "direct" } : number;
    }),
  ];
}

function supplyOf(given: Given, types: readonly MotorType[]): MotorType["supply"] | undefined {
  return types.find(({ type }) => type === given["motor.type"])?.supply;
}

/** A limit without an end. */
export const lacksLimit: Lacks = (given) => (given["low"]?.trim() || given["high"]?.trim() ? null : ["low", "It has no limit yet: fill in Lowest, Highest or both."]);

/** What stands in a field before it is changed. */
export function typed(value: string | number | null | undefined): string {
  return value === null || value === undefined ? "" : String(value);
}

/** "1,5" is a number too; what is none goes to the service as it is, which says what is wrong with it. */
export function numberFrom(text: string): number | string | null {
  const plain = text.trim().replace(",", ".").replace("\u2212", "-");
  return plain === "" ? null : Number.isFinite(Number(plain)) ? Number(plain) : plain;
}

/** The fields that were changed, as the service takes them. */
export function rigChange(given: Given, before: Given): Record<string, string | number | null> {
  const changed = RIG_FIELDS.filter(({ key }) => given[key] !== before[key]);
  return Object.fromEntries(changed.map(({ key, number }) => [key.slice("rig.".length), number ? numberFrom(given[key] ?? "") : (given[key] ?? "").trim()]));
}

export function motorChange(given: Given): Record<string, unknown> {
  const plate = PLATE.map(([key]) => [key, numberFrom(given[`motor.plate.${key}`] ?? "")] as const).filter(([, value]) => value !== null);
  return { name: (given["motor.name"] ?? "").trim(), type: given["motor.type"] ?? "", plate: Object.fromEntries(plate) };
}

/**
 * Whether a refusal that names this setting stands at this field. A shape that is wrong is named without its table; a field
 * of one word is that of whichever table the form is about.
 */
export function isAbout(field: string, key: string): boolean {
  return key !== "" && (field === key || field === `rig.${key}` || key.endsWith(`.${field}`));
}

/** The name by which the settings of a channel are kept: its own if it has one. */
export function channelName(channel: { readonly name: string; readonly index: number }): string {
  return channel.name || String(channel.index);
}
