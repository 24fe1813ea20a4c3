/** A test plan as a form gives it and the service takes it (server/test_plan/PLAN.md), and its limits in words. Pure. */
import type { Choices, Kinds } from "./alarms";
import { capital, plain, withUnit } from "./format";
import type { FigureKind } from "./cycles";
import type { PlanTest } from "./night_words";
import { whenWords } from "./runs";
import { type Field, type Given, type Lacks, numberFrom, typed } from "./settings";
import { asGiven } from "./words";

type Values = Readonly<Record<string, string | number>>;
type Table = Readonly<Record<string, Values>>;

export const LIMIT_TABLES = ["readings", "cycles", "events", "verdicts"] as const;
export type LimitTable = (typeof LIMIT_TABLES)[number];

export interface PlanTables extends Partial<Readonly<Record<LimitTable, Table>>> {
  readonly test?: PlanTest & Values;
  readonly duty?: Values;
}

export interface TestPlan {
  readonly rig: string;
  readonly file: string;
  readonly text: string | null; // null: there is none, or the file cannot be read
  readonly tables: PlanTables | null;
  readonly refused: string;
  readonly ended: string; // the run that ended as it was set, or ""
}

/** What is typed for "from now on", in the place of a time. */
const NOW = "now";
const DUTY_TYPES: Choices = [["", "not said"], ["S1", "S1, continuous"], ["S2", "S2, short-time"], ["S3", "S3, intermittent"], ["S4", "S4, with starting"], ["S5", "S5, with braking"]];

/** The fields of the form; `temperatures`: readings that may come to equilibrium, by their ids. */
export function planFields(temperatures: Choices, { test = {} }: PlanTables, now_utc_s: number): readonly Field[] {
  const begins = test["begins"];
  const heat = typed(test.heat_run);
  const known = heat && !temperatures.some(([id]) => id === heat) ? [[heat, plain(heat)] as const] : [];
  const from = typeof begins === "string" ? [[begins, `runs that opened since ${sinceWords(begins, now_utc_s)}`] as const] : [];
  const number = (key: string, label: string, unit: string, hint: string): Field => ({ key, label, unit, hint, number: true });
  return [
    { key: "test.specimen", label: "Specimen" },
    { key: "test.serial", label: "Serial number" },
    number("test.goal_cycles", "Goal, cycles", "starts", "none"),
    number("test.goal_hours", "Goal, on-time", "h", "none"),
    ...(temperatures.length || heat ? [{ key: "test.heat_run", label: "Goal, equilibrium of", choices: [["", "none"] as const, ...temperatures, ...known] }] : []),
    { key: "test.begins", label: "Counted are", choices: [...from, ["", "all runs of this rig"], [NOW, "runs that open from now on"]] },
    number("test.unknown_percent", "May be unknown", "%", "1"),
    number("duty.on_s", "Duty expected, on", "s", "not said"),
    number("duty.off_s", "Duty expected, off", "s", "not said"),
    { key: "duty.type", label: "Duty type expected", choices: DUTY_TYPES },
  ];
}

const GOALS = ["test.goal_cycles", "test.goal_hours", "test.heat_run"];

export const planLacks: Lacks = (given) => {
  if (!given["test.specimen"]?.trim()) return ["test.specimen", "It is not said what is tested: fill in the specimen."];
  return GOALS.some((key) => given[key]?.trim()) ? null : ["test.goal_cycles", "It has no goal, so it would be over at once: fill in one of the goals."];
};

function sinceWords(begins: string, now_utc_s: number): string {
  const at = Date.parse(begins) / 1000;
  return Number.isNaN(at) ? begins : whenWords(at, now_utc_s);
}

/** What stands in the fields before they are changed. */
export function planGiven(tables: PlanTables, fields: readonly Field[]): Given {
  return Object.fromEntries(fields.map(({ key }) => {
    const [table = "", name = ""] = key.split(".");
    return [key, typed((tables[table as "test" | "duty"] as Values | undefined)?.[name])];
  }));
}

/** The plan with what was typed; what the form does not ask stays as it was, and what was emptied is not said. */
export function planTables(given: Given, fields: readonly Field[], before: PlanTables, now_utc_s: number): PlanTables {
  const set = (table: "test" | "duty"): Values => {
    const all: Record<string, string | number | null> = { ...before[table] };
    for (const { key, number } of fields) {
      const [home, name = ""] = key.split(".");
      if (home === table) all[name] = number ? numberFrom(given[key] ?? "") : (given[key] ?? "").trim();
    }
    return Object.fromEntries(Object.entries(all).filter(([, value]) => value !== null && value !== "")) as Values;
  };
  const test = set("test");
  const duty = set("duty");
  if (test["begins"] === NOW) return planOf(before, { ...test, begins: `${new Date(now_utc_s * 1000).toISOString().slice(0, 19)}Z` }, duty);
  return planOf(before, test, duty);
}

function planOf(before: PlanTables, test: Values, duty: Values): PlanTables {
  const { tolerance_percent: _, ...its } = duty;
  return { ...before, test: test as PlanTest & Values, duty: duty["on_s"] === undefined ? its : duty };
}

/** The plan with one more limit, another one in its place, or without it (null). */
export function withLimit(tables: PlanTables, table: LimitTable, key: string, values: Values | null): PlanTables {
  const { [key]: _, ...others } = tables[table] ?? {};
  return { ...tables, [table]: values ? { ...others, [key]: values } : others };
}

/** One limit as a row: what fails the test. */
export interface LimitRow {
  readonly table: LimitTable;
  readonly key: string;
  readonly name: string;
  readonly words: string;
}

export interface Names {
  readonly reading: (id: string) => readonly [label: string, unit: string];
  readonly figures: readonly FigureKind[];
  readonly kinds: Kinds;
}

export function limitRows(tables: PlanTables, names: Names): readonly LimitRow[] {
  return LIMIT_TABLES.flatMap((table) => Object.entries(tables[table] ?? {}).map(([key, values]) => row(table, key, values, names)));
}

function row(table: LimitTable, key: string, values: Values, { reading, figures, kinds }: Names): LimitRow {
  if (table === "readings") {
    const [name, unit] = reading(key);
    return { table, key, name, words: ends(values, unit) + (values["state"] === "any" ? ", whatever it does" : ", while it runs") };
  }
  if (table === "cycles") {
    const kind = figures.find((each) => each.key === key);
    return { table, key, name: capital(kind?.label ?? plain(key)), words: `${ends(values, kind?.unit ?? "")}, in any cycle` };
  }
  const most = Number(values["most"] ?? 0);
  const name = capital(kinds[table][key] ?? plain(key));
  return { table, key, name, words: most === 0 ? "at all" : `more than ${most === 1 ? "once" : `${most} times`}` };
}

function ends(values: Values, unit: string): string {
  const end = (word: string, key: string): string[] => (values[key] === undefined ? [] : [`${word} ${withUnit(asGiven(Number(values[key])), unit)}`]);
  return [...end("below", "low"), ...end("above", "high")].join(" or ");
}

const STATES: Choices = [["running", "while it runs"], ["any", "whatever it does"]];

/** The fields of one limit; `choices`: what may have one, none where it is known which. */
export function limitFields(table: LimitTable, choices: Choices, unit: string): readonly Field[] {
  const of: readonly Field[] = choices.length ? [{ key: "of", label: { readings: "Reading", cycles: "Figure of a cycle", events: "Event", verdicts: "Verdict" }[table], choices }] : [];
  if (table === "events" || table === "verdicts") return [...of, { key: "most", label: "Allowed", unit: "times", number: true, hint: "0" }];
  const pair: readonly Field[] = [{ key: "low", label: "Lowest", number: true, unit, hint: "none" }, { key: "high", label: "Highest", number: true, unit, hint: "none" }];
  return table === "readings" ? [...of, ...pair, { key: "state", label: "It counts", choices: STATES }] : [...of, ...pair];
}

export function limitGiven(values: Values | undefined, fields: readonly Field[]): Given {
  return Object.fromEntries(fields.map(({ key, choices }) => [key, typed(values?.[key]) || (choices?.[0]?.[0] ?? "")]));
}

export function limitValues(given: Given, fields: readonly Field[]): Values {
  const said = fields.filter(({ key }) => key !== "of").map(({ key, number }) => [key, number ? numberFrom(given[key] ?? "") : given[key]] as const);
  return Object.fromEntries(said.filter(([, value]) => value !== null && value !== "" && value !== undefined)) as Values;
}

/** What a plan expects of how the motor is used: "on 60 s, off 240 s, S3"; "" where it says nothing. */
export function dutyWords({ duty = {} }: PlanTables): string {
  const pair = duty["on_s"] === undefined ? [] : [`on ${withUnit(asGiven(Number(duty["on_s"])), "s")}, off ${withUnit(asGiven(Number(duty["off_s"])), "s")}, ± ${withUnit(asGiven(Number(duty["tolerance_percent"] ?? 5)), "%")}`];
  return [...pair, ...(duty["type"] === undefined ? [] : [String(duty["type"])])].join(", ");
}

/** Which runs count: "runs since 25 Nov 14:05" or all. */
export function countedWords({ test = {} }: PlanTables, now_utc_s: number): string {
  const begins = test["begins"];
  return typeof begins === "string" ? `runs since ${sinceWords(begins, now_utc_s)} count` : "all runs of the rig count";
}

/** The line that a refusal names, from 1 on; null where it names none. */
export function lineOf(sentence: string): number | null {
  const found = /, line (\d+): /.exec(sentence);
  return found ? Number(found[1]) : null;
}

/** From where to where a line stands in a text. */
export function spanOf(text: string, line: number): readonly [number, number] {
  const lines = text.split("\n");
  const from = lines.slice(0, line - 1).reduce((sum, each) => sum + each.length + 1, 0);
  return [from, from + (lines[line - 1]?.length ?? 0)];
}
