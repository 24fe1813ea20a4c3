/**
 * What a drawing of the connections is made of: conductors and symbols of the motor's circuit in thin lines, and marks
 * where the board's sensors go. Data only: positions in units of a drawing 340 wide, y down; `draw/schematic.tsx` draws it.
 */
export type Sensor = "voltage" | "current" | "pulse" | "hall";
export type Spot = readonly [number, number];

/** A probe's two ends, plus first; its name stands along its line, on the side away from the circuit. */
export interface ProbeMark {
  readonly sensor: "voltage";
  readonly place: string;
  readonly plus: Spot;
  readonly minus: Spot;
  readonly name: Spot;
}

/** A ring round a conductor with its arrow (degrees, 0 to the right, 90 down). */
export interface RingMark {
  readonly sensor: "current";
  readonly place: string;
  readonly at: Spot;
  readonly towards: number;
  readonly name: Spot;
  readonly anchor: Anchor;
}

/** A tap on a signal wire or a pickup at the shaft. */
export interface TapMark {
  readonly sensor: "pulse" | "hall";
  readonly place: string;
  readonly at: Spot;
  readonly name: Spot;
  readonly anchor: Anchor;
}

export type Mark = ProbeMark | RingMark | TapMark;
export type Anchor = "start" | "middle" | "end";

export interface Note {
  readonly at: Spot;
  readonly text: string;
  readonly anchor: Anchor;
}

export interface Schematic {
  readonly height: number;
  /** Paths of the circuit; `heavy` are the motor's windings and rotor, `dashed` what may be there or not. */
  readonly lines: readonly string[];
  readonly heavy: readonly string[];
  readonly dashed: readonly string[];
  readonly dots: readonly Spot[]; // where conductors are joined
  readonly notes: readonly Note[];
  readonly marks: readonly Mark[];
}

export const WIDTH = 340;
const NAME_OFF = 16; // from a probe's line to the foot of its name

/** A probe across two heights at one place, its name to the right of it, in the middle where nothing crosses it. */
export function probe(place: string, x: number, plus: number, minus: number, nameY = (plus + minus) / 2): ProbeMark {
  return { sensor: "voltage", place, plus: [x, plus], minus: [x, minus], name: [x + NAME_OFF, nameY] };
}

export function ring(place: string, at: Spot, towards: number, name: Spot, anchor: Anchor = "middle"): RingMark {
  return { sensor: "current", place, at, towards, name, anchor };
}

export function tap(sensor: "pulse" | "hall", place: string, at: Spot, name: Spot, anchor: Anchor = "middle"): TapMark {
  return { sensor, place, at, name, anchor };
}

export function note(x: number, y: number, text: string, anchor: Anchor = "middle"): Note {
  return { at: [x, y], text, anchor };
}

export function wire(...spots: readonly Spot[]): string {
  return spots.map(([x, y], k) => `${k ? "L" : "M"}${x} ${y}`).join("");
}

const BUMP = 7;

/** A winding, downward from its upper end: half circles that bulge to the right; 14 units each. */
export function coil(x: number, y: number, bumps = 5): string {
  return `M${x} ${y}${`a${BUMP} ${BUMP} 0 0 1 0 ${2 * BUMP}`.repeat(bumps)}`;
}

/** The same to the right from its left end, bulging upward. */
export function lyingCoil(x: number, y: number, bumps = 3): string {
  return `M${x} ${y}${`a${BUMP} ${BUMP} 0 0 1 ${2 * BUMP} 0`.repeat(bumps)}`;
}

/** Two plates across a conductor that goes down; 8 units of it. */
export function capacitor(x: number, y: number): string {
  return `M${x - 14} ${y}h28M${x - 14} ${y + 8}h28`;
}

/** A contact that opens, in a conductor that goes down; 24 units of it. */
export function contact(x: number, y: number): string {
  return `M${x - 10} ${y + 2}L${x} ${y + 24}`;
}

export function circle(x: number, y: number, r: number): string {
  return `M${x - r} ${y}a${r} ${r} 0 1 1 ${2 * r} 0a${r} ${r} 0 1 1 ${-2 * r} 0Z`;
}

export function box(x: number, y: number, width: number, height: number): string {
  return `M${x} ${y}h${width}v${height}h${-width}Z`;
}

/** What every circuit with two supply leads begins with: their ends, named. */
export function leads(upper: string, lower: string, top: number, bottom: number): { lines: readonly string[]; notes: readonly Note[] } {
  return { lines: [circle(22, top, 3), circle(22, bottom, 3)], notes: [note(22, top - 10, upper), note(22, bottom + 20, lower)] };
}
