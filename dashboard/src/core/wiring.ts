/** The wiring of a rig and its guided check, as the service tells them, and the geometry of their drawings. Pure. */

export interface Sign {
  readonly speaks: "for" | "against" | "missing";
  readonly text: string;
}

export interface Verdict {
  readonly key: string;
  readonly question: string;
  readonly answer: string;
  readonly certainty: "plain" | "probable" | "open";
  readonly signs: readonly Sign[];
  readonly open: readonly string[];
  readonly next_test: { readonly text: string; readonly caution: string } | null;
}

/** One cable of which wires move: `to[k]` is the place to which the wire on place k goes. */
export interface Cable {
  readonly what: string;
  readonly places: readonly string[];
  readonly names: readonly string[]; // the person's, or ""
  readonly to: readonly number[];
}

export interface Mend {
  readonly acts: readonly string[];
  readonly runs: string;
  readonly fraction: number;
  readonly plugs: number;
  readonly cables: readonly Cable[];
}

export interface Fit {
  readonly words: string;
  readonly fraction: number;
  readonly now: boolean;
  readonly best: boolean;
}

export interface HallTiming {
  readonly name: string;
  readonly rise_deg: number | null;
  readonly right_deg: number;
  readonly late_deg: number | null; // in the direction turned: where angles fall in time, it stands before its place
  readonly edges: readonly (readonly [number, number])[]; // angle, 1 where it rises
  readonly high: number; // what it reads that has no edge
  readonly words: readonly string[];
  readonly dimension: boolean;
}

export interface Timing {
  readonly bin_deg: number;
  readonly turns: number;
  readonly turns_hz: number;
  readonly ahead: boolean;
  readonly volts: Readonly<Record<string, readonly (number | null)[]>>;
  readonly peak_v: number | null;
  readonly rms_v: number | null;
  readonly halls: readonly HallTiming[];
  readonly found: readonly number[];
  readonly right: readonly number[];
  readonly sentence: string;
}

export interface Names {
  readonly halls: readonly string[];
  readonly phases: readonly string[];
}

export interface CheckStep {
  readonly number: number;
  readonly key: string;
  readonly title: string;
  readonly found: string;
  readonly passed: boolean;
  readonly odd: boolean; // what it found is wrong with the wires
  readonly known: boolean;
}

export interface Answers {
  readonly pole_pairs: number | null;
  readonly rated_v: number | null;
  readonly rated_a: number | null;
  readonly supply_v: number | null;
  readonly supply_a: number | null;
  readonly spacing_deg: number | null; // null: as the plate says
}

/** What the plate says of what a person is asked; source: board, settings or "" (no plate). */
export interface PlateSaid {
  readonly source: string;
  readonly pole_pairs: number | null;
  readonly rated_a: number | null;
  readonly spacing_deg: number | null;
}

export interface Check {
  readonly step: number;
  readonly key: string;
  readonly short: boolean;
  readonly title: string;
  readonly connected: string;
  readonly asks: string;
  readonly cautions: readonly string[];
  readonly agreed: boolean;
  readonly powered: boolean;
  readonly says: string;
  readonly missing: string;
  readonly odd: boolean;
  readonly done: number;
  readonly of: number;
  readonly offers: string;
  readonly form: "" | "names" | "supply" | "count" | "try" | "move" | "starts";
  readonly can_short: boolean;
  readonly finished: boolean;
  readonly predicted: string;
  readonly push: string;
  readonly steps: readonly CheckStep[];
  readonly names: Names;
  readonly answers: Answers;
  readonly plate: PlateSaid;
  readonly mends: readonly Mend[];
  readonly mend: number;
  readonly moved: boolean;
  readonly tries: readonly { readonly order: string; readonly words: string; readonly showed: string }[];
  readonly began: readonly number[];
  readonly refused: readonly number[];
}

export interface Wiring {
  readonly rig: string;
  readonly halls: boolean;
  readonly names: Names & { readonly not_kept: string };
  readonly check: Check | null;
  readonly far: { readonly word: string; readonly below: string } | null;
  readonly order?: string; // the key of the verdict on the order of wires
  readonly verdicts: readonly Verdict[];
  readonly fits: readonly Fit[];
  readonly mends: readonly Mend[];
  readonly timing: Timing | null;
  readonly edges: number;
}

export const FIRST_DEG = 30; // where sector 1 begins, and the drawing with it
const TURN_DEG = 360;
const MARGIN_DEG = 2;

/** Angle in 0..360 behind the beginning of the drawing. */
export function behind(deg: number): number {
  return (((deg - FIRST_DEG) % TURN_DEG) + TURN_DEG) % TURN_DEG;
}

/** Edges of one input from the beginning of the drawing on, over so many turns: where, and the level from there. */
export function levelsOver(hall: Pick<HallTiming, "edges" | "high">, turns: number): { start: boolean; edges: { deg: number; high: boolean }[] } {
  const once = hall.edges.map(([deg, up]) => ({ deg: behind(deg), high: up === 1 })).sort((one, other) => one.deg - other.deg);
  const edges = Array.from({ length: turns }, (_, turn) => once.map(({ deg, high }) => ({ deg: FIRST_DEG + deg + turn * TURN_DEG, high }))).flat();
  return { start: edges.length ? !edges[0]!.high : hall.high === 1, edges };
}

/** The same of an input that is high for half a turn from where it should rise. */
export function rightOver(right_deg: number, turns: number): { start: boolean; edges: { deg: number; high: boolean }[] } {
  return levelsOver({ edges: [[right_deg, 1], [right_deg + TURN_DEG / 2, 0]], high: 0 }, turns);
}

/** A track of levels as a path; `x` of an angle. An edge on the very margin, or just beside it, is no upright. */
export function levelPath(track: ReturnType<typeof levelsOver>, x: (deg: number) => number, low: number, high: number, turns: number): string {
  const end = FIRST_DEG + turns * TURN_DEG;
  const y = (level: boolean): number => (level ? high : low);
  const path = track.edges.filter(({ deg }) => deg > FIRST_DEG + MARGIN_DEG && deg < end - MARGIN_DEG).map((edge) => `H${round(x(edge.deg))}V${y(edge.high)}`).join("");
  const first = track.edges[0];
  const start = first && first.deg <= FIRST_DEG + MARGIN_DEG ? first.high : track.start;
  return `M${round(x(FIRST_DEG))} ${y(start)}${path}H${round(x(end))}`;
}

/** Values by angle as a path over so many turns, from the beginning of the drawing on; breaks where there is none. */
export function wavePath(values: readonly (number | null)[], binDeg: number, x: (deg: number) => number, y: (value: number) => number, turns: number): string {
  const first = Math.round(FIRST_DEG / binDeg);
  let path = "";
  let pen = "M";
  for (let k = -1; k <= turns * values.length; k += 1) {
    const value = values[(first + k + values.length) % values.length];
    if (value === null || value === undefined) { pen = "M"; continue; }
    const deg = Math.min(Math.max(FIRST_DEG + (k + 0.5) * binDeg, FIRST_DEG), FIRST_DEG + turns * TURN_DEG);
    path += `${pen}${round(x(deg))} ${round(y(value))}`;
    pen = "L";
  }
  return path;
}

/** Where the dimension of a late or early edge stands: between where it belongs and where it is, on the first stretch that fits. */
export function dimensionOf(hall: HallTiming, turns: number): { from: number; to: number } | null {
  if (hall.rise_deg === null || !hall.dimension) return null;
  const off = behind(hall.rise_deg - hall.right_deg + FIRST_DEG + TURN_DEG / 2) - TURN_DEG / 2;
  const right = FIRST_DEG + behind(hall.right_deg);
  const end = FIRST_DEG + turns * TURN_DEG;
  const places = Array.from({ length: turns + 1 }, (_, turn) => right + turn * TURN_DEG).map((from) => ({ from, to: from + off }));
  return places.find(({ from, to }) => Math.min(from, to) >= FIRST_DEG && Math.max(from, to) <= end) ?? null;
}

/** "+1.00", "−0.51", "0.00": a torque fraction with its sign. */
export function fractionWords(fraction: number): string {
  const rounded = Math.round(fraction * 100) / 100;
  return `${rounded > 0 ? "+" : rounded < 0 ? "\u2212" : ""}${Math.abs(rounded).toFixed(2)}`;
}

/** The wires of one cable before or after: from which place to which; each with its name. */
export function wiresOf(cable: Cable, after: boolean): { from: number; to: number; name: string }[] {
  return cable.places.map((_, k) => ({ from: k, to: after ? cable.to[k]! : k, name: cable.names[k] ?? "" }));
}

/** Which of the values in the form are the plate's, and who told the plate; "" where a person wrote others. */
export function fromPlate(plate: PlateSaid, written: Omit<PlateSaid, "source">): string {
  const names = { pole_pairs: "pole pairs", rated_a: "rated current", spacing_deg: "spacing of the sensors" } as const;
  const its = (Object.keys(names) as (keyof typeof names)[]).filter((key) => written[key] !== null && written[key] === plate[key]);
  if (!plate.source || !its.length) return "";
  return `From the plate ${plate.source === "board" ? "that the board told" : "in the rig\u2019s settings"}: ${its.map((key) => names[key]).join(", ")}.`;
}

/** What a wire is called: its place, and the person's word for it. */
export function wireWords(place: string, name: string): string {
  return name.split(" ").at(-1) === place ? name : name ? `${place} ${name}` : place; // "lead U" says it already
}

/** What to do, and what comes of it, in one sentence. */
export function mendWords({ acts, runs }: Pick<Mend, "acts" | "runs">): string {
  return `${acts.join(" ").replace(/\.$/, "")}; ${runs}.`;
}

/** For those who cannot see the drawing of the wires. */
export function plugSentence(cable: Cable): string {
  return `${cable.what}: ${cable.places.map((place, k) => `${wireWords(place, cable.names[k] ?? "")} goes to ${cable.places[cable.to[k]!]}`).join(", ")}.`;
}

function round(value: number): number {
  return Math.round(value * 10) / 10;
}
