/** Which place a reading belongs to, and how readings of several places stand beside each other. Pure. */
import { number, withUnit } from "./format";
import type { Picture, Readings } from "./picture";
import { keyOf, placeOf } from "./shown";

const LINES: readonly string[] = ["L1", "L2", "L3"];
const LEADS: readonly string[] = ["U", "V", "W"];
/** What three phases make together, under a key of its own. */
const TOGETHER = /^(arithmetic|effective)_/;

/** The column of totals. */
export const TOTAL = "all three";

export interface Grid {
  readonly columns: readonly string[];
  readonly rows: readonly { readonly key: string; readonly ids: readonly (string | undefined)[] }[]; // one id a column
}

/** The phase of a reading: the main one's stands without a place, and is the one that is missing beside it. "": none, or a total. */
export function phaseOf(id: string, ids: readonly string[]): string {
  const place = placeOf(id);
  if (place) return LINES.includes(place) || LEADS.includes(place) ? place : "";
  const beside = ids.filter((each) => keyOf(each) === id && each !== id).map(placeOf);
  for (const [trio, least] of [[LINES, 1], [LEADS, 2]] as const) {
    const missing = trio.filter((each) => !beside.includes(each));
    if (missing.length > 0 && missing.length <= trio.length - least) return missing[0]!;
  }
  return "";
}

/** Whether it is of the three lines together. */
function isTotal(id: string, ids: readonly string[]): boolean {
  return !placeOf(id) && (TOGETHER.test(id) || LINES.every((line) => ids.includes(`${id}.${line}`)));
}

function columnOf(id: string, ids: readonly string[]): string {
  return phaseOf(id, ids) || placeOf(id) || (isTotal(id, ids) ? TOTAL : "");
}

/** Readings without a place, and tables of the others: phases in one, each other set of places in its own. `ids` in reading order. */
export function gridsOf(ids: readonly string[]): { plain: string[]; grids: Grid[] } {
  const placed = ids.filter((id) => columnOf(id, ids));
  const keys = [...new Set(placed.map(keyOf))];
  const tables = new Map<string, string[]>();
  for (const key of keys) {
    const columns = placed.filter((id) => keyOf(id) === key).map((id) => columnOf(id, ids));
    const trio = [LINES, LEADS].find((each) => columns.some((column) => each.includes(column) || (column === TOTAL && each === LINES)));
    const name = trio ? trio.join() : columns.join();
    tables.set(name, [...(tables.get(name) ?? []), key]);
  }
  const grids = [...tables].map(([name, its]): Grid => {
    const found = its.flatMap((key) => placed.filter((id) => keyOf(id) === key));
    const order = [...name.split(","), ...found.map((id) => columnOf(id, ids)).filter((column) => column !== TOTAL), TOTAL];
    const columns = [...new Set(order)].filter((column) => found.some((id) => columnOf(id, ids) === column));
    const rows = its.map((key) => ({ key, ids: columns.map((column) => found.find((id) => keyOf(id) === key && columnOf(id, ids) === column)) }));
    return { columns, rows };
  });
  return { plain: ids.filter((id) => !columnOf(id, ids)), grids };
}

/** The phase that the far line shows, in words: "phase L1"; "" where there is one supply alone. */
export function mainPhase({ readings, far }: Picture): string {
  const ids = Object.keys(readings);
  const phase = far.map((id) => phaseOf(id, ids)).find((each) => LINES.includes(each));
  return phase ? `phase ${phase}` : "";
}

/** The mean of the voltages between the lines, which a plate gives: "400.3 V between lines"; "" where they are not all good. */
export function linesWords({ readings }: Pick<Picture, "readings">): string {
  const volts = lineVoltages(readings);
  return volts.length === 3 ? `${withUnit(number(volts.reduce((sum, each) => sum + each, 0) / 3, 1), "V")} between lines` : "";
}

function lineVoltages(readings: Readings): number[] {
  const found = Object.entries(readings).filter(([id, { confidence, aged }]) => keyOf(id) === "line_voltage_rms_v" && confidence === "good" && !aged);
  return found.map(([, { value }]) => value).filter((value) => typeof value === "number");
}
