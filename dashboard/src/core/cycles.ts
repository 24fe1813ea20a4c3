/** The cycles of a run as the service tells them, and what a table says of each figure. Pure. */
import { DASH, capital, duration, number, withUnit } from "./format";
import { decimalsOf, plusMinus, rounded, writtenAs } from "./rounding";
import { RAD_S, RPM } from "./units";

export interface Figure {
  readonly value: number | null;
  readonly u95: number | null; // half the width of the interval that holds the true value in 95 % of cases
  readonly bound: "" | "at least" | "at most";
  readonly reason: string;
}

export interface FigureKind {
  readonly key: string;
  readonly label: string;
  readonly unit: string;
  readonly digits: number;
  readonly definition: string;
}

export interface Cycle {
  readonly number: number;
  readonly utc_s: number;
  readonly begun: "seen" | "unseen" | "before";
  readonly ended: boolean;
  readonly figures: Readonly<Record<string, Figure>>;
  readonly doubts: readonly string[];
}

export interface Drift {
  readonly key: string;
  readonly unit: string;
  readonly per_cycle: number;
  readonly low95: number;
  readonly high95: number;
  readonly chance: number; // how often as much comes of nothing
  readonly cycles: number;
  readonly significant: boolean;
}

export interface Cycles {
  readonly run: string;
  readonly starts: number;
  readonly on_s: number;
  readonly hidden_s: number;
  readonly duty_factor_percent: Figure;
  readonly starts_per_hour: Figure;
  readonly cycles_whole: number;
  readonly duty_type: { readonly name: string; readonly words: string; readonly missing: readonly string[] };
  readonly drifts: readonly Drift[];
  readonly kinds: readonly FigureKind[];
  readonly cycles: readonly Cycle[]; // the newest, the one under way last
  readonly missing: readonly string[]; // sentences: what of the run is in neither counts nor figures, or in counts alone
}

/** Drift is asked for from so many cycles on. */
export const FEWEST = 10;

const SHOWN = ["starting_time_s", "inrush_half_cycle_a", "steady_current_a", "steady_speed_rpm", "coasting_time_s", "energy_wh", "on_time_s", "off_time_s"];
const DRIFTING = SHOWN.slice(0, 6); // on-time and off-time are a person's

/** One figure as a row: of the newest cycle that ended, over the cycles that are told, and whether it drifts. */
export interface Row {
  readonly key: string;
  readonly name: string;
  readonly title: string;
  readonly newest: string;
  readonly reason: string; // why it is not known, or ""
  readonly range: string;
  readonly drift: string;
  readonly drifts: boolean;
  readonly chance: string;
}

export function rowsOf(its: Cycles, speed_unit: string): readonly Row[] {
  return SHOWN.flatMap((key) => {
    const kind = its.kinds.find((each) => each.key === key);
    return kind ? [rowOf(its, kind, speed_unit)] : [];
  });
}

function rowOf({ cycles, drifts }: Cycles, kind: FigureKind, speed_unit: string): Row {
  const scale = kind.unit === RPM && speed_unit === RAD_S ? Math.PI / 30 : 1;
  const unit = scale === 1 ? kind.unit : RAD_S;
  const digits = scale === 1 ? kind.digits : kind.digits + 1;
  const newest = cycles.filter(({ ended }) => ended).at(-1) ?? cycles.at(-1);
  const figure = newest?.figures[kind.key];
  const values = cycles.flatMap(({ figures }) => (figures[kind.key]?.value == null || figures[kind.key]?.bound ? [] : [figures[kind.key]!.value! * scale]));
  const drift = drifts.find(({ key }) => key === kind.key);
  const decimals = figure?.value != null && figure.u95 ? Math.max(digits, decimalsOf(figure.u95 * scale)) : digits; // as many as the newest has
  return {
    key: kind.key, name: capital(kind.label), title: kind.definition,
    newest: figure ? figureWords(figure, unit, digits, scale) : DASH,
    reason: figure?.value === null ? figure.reason : "",
    range: values.length < 2 ? DASH : `${number(Math.min(...values), decimals)} to ${withUnit(number(Math.max(...values), decimals), unit)}`,
    drift: drift ? driftWords(drift, unit, scale) : "",
    drifts: drift?.significant ?? false,
    chance: drift ? chanceWords(drift) : DRIFTING.includes(kind.key) ? `drift is told from ${withUnit(String(FEWEST), "such cycles")} on` : "",
  };
}

/** "0.412 ± 0.008 s", "at least 0.4 s", or a dash. */
export function figureWords({ value, u95, bound }: Figure, unit: string, digits: number, scale = 1): string {
  if (value === null) return DASH;
  const [at, half] = [value * scale, u95 === null ? null : u95 * scale];
  const written = rounded(at, half ? { half, low: at - half, high: at + half } : null, digits, false);
  const off = plusMinus(written).replace("±", "±\u2009");
  return withUnit([bound, writtenAs(written), off].filter(Boolean).join(" "), unit);
}

/** "+0.31 mA a cycle (0.21 to 0.42 mA)"; where it may come of nothing, between what it lies. */
function driftWords({ per_cycle, low95, high95, significant }: Drift, unit: string, scale: number): string {
  const size = Math.max(Math.abs(low95), Math.abs(high95)) * scale;
  if (size === 0) return "no drift seen";
  const [power, small] = smallUnit(size, unit);
  const decimals = decimalsFor(((high95 - low95) / 2) * scale * power);
  const write = (value: number): string => number(value * scale * power, decimals);
  const ends = `${write(low95)} to ${withUnit(write(high95), small)}`;
  return significant ? `${per_cycle > 0 ? "+" : ""}${withUnit(write(per_cycle), small)} a cycle (${ends})` : `no drift seen (${ends})`;
}

function chanceWords({ chance, cycles }: Drift): string {
  const often = chance < 0.001 ? "less than 0.1" : number(100 * chance, chance < 0.0995 ? 1 : 0);
  return `by chance in ${withUnit(often, "%")} of cases, ${withUnit(number(cycles), "cycles")}`;
}

/** Units that are written with a prefix where the figures are small. */
const PREFIXED = ["A", "s", "Wh"];

function smallUnit(size: number, unit: string): readonly [number, string] {
  if (!PREFIXED.includes(unit) || size >= 0.1) return [1, unit];
  return size >= 1e-4 ? [1e3, `m${unit}`] : [1e6, `µ${unit}`];
}

/** So many that the half width has two figures at least, six decimals at most. */
function decimalsFor(half: number): number {
  return half > 0 ? Math.min(6, Math.max(0, 1 - Math.floor(Math.log10(half)))) : 2;
}

/** How the motor was used: on-time of the whole time, and how often it started. */
export function usageWords({ duty_factor_percent, starts_per_hour, cycles_whole }: Cycles): string {
  if (duty_factor_percent.value === null) return `Cyclic duration factor and starts per hour are not known: ${duty_factor_percent.reason || starts_per_hour.reason}.`;
  return `Cyclic duration factor ${figureWords(duty_factor_percent, "%", 1)}, ${figureWords(starts_per_hour, "starts per hour", 1)}, of ${withUnit(number(cycles_whole), cycles_whole === 1 ? "cycle" : "cycles")} known whole.`;
}

/** "27 starts, on for 1 min 50 s; the last cycle is under way", which is one of them. */
export function countWords({ starts, on_s, hidden_s, cycles, missing }: Cycles): string {
  const open = cycles.at(-1)?.ended === false;
  const hidden = hidden_s >= 0.05 ? ` In ${duration(hidden_s)} without samples more may have happened.` : "";
  const said = `${number(starts)} ${starts === 1 ? "start" : "starts"}, on for ${duration(Math.round(on_s))}${open ? "; the last cycle is under way" : ""}.${hidden}`;
  return [said, ...missing].join(" ");
}
