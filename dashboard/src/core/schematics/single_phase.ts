/** Single-phase motors with a winding on the line and another beside it, and the universal motor behind a speed control. */
import { type Mark, type Schematic, box, capacitor, circle, coil, contact, leads, note, probe, ring, tap, wire } from "./parts";

const [TOP, BOTTOM] = [50, 250];
const MAIN_X = 150;
const AUX_X = 270;
const COIL_Y = 146;
const COIL_END = COIL_Y + 70;
const ROTOR = [210, 181, 24] as const;
const SUPPLY = leads("L", "N", TOP, BOTTOM);
const MAIN = [wire([25, TOP], [MAIN_X, TOP], [MAIN_X, COIL_Y]), wire([MAIN_X, COIL_END], [MAIN_X, BOTTOM], [25, BOTTOM])];
const LINE: readonly Mark[] = [
  probe("supply", 50, TOP, BOTTOM),
  ring("line", [104, TOP], 0, [104, TOP - 18]),
];
const SHAFT = tap("pulse", "shaft", [210, 205], [210, 232]);

/** What stands in the auxiliary branch between line and winding: its paths, the conductor's ends between them, its marks. */
interface Branch {
  readonly paths: readonly string[];
  readonly gaps: readonly (readonly [number, number])[];
  readonly marks: readonly Mark[];
}

const CAPACITOR_Y = 92;
const RUN: Branch = {
  paths: [capacitor(AUX_X, CAPACITOR_Y)],
  gaps: [[CAPACITOR_Y, CAPACITOR_Y + 8]],
  marks: [probe("capacitor", AUX_X + 34, 66, 126)],
};
const SWITCH: Branch = {
  paths: [contact(AUX_X, 78)],
  gaps: [[80, 102]],
  marks: [probe("auxiliary", AUX_X + 34, 128, BOTTOM)],
};
const START: Branch = {
  paths: [contact(AUX_X, 58), capacitor(AUX_X, 108)],
  gaps: [[60, 82], [108, 116]],
  marks: [probe("capacitor", AUX_X + 34, 92, 134)],
};

function twoWindings(branch: Branch, inside: string, words: readonly [string, string]): Schematic {
  const ends = [TOP, ...branch.gaps.flat(), COIL_Y];
  const down = ends.flatMap((y, k) => (k % 2 ? [] : [wire([AUX_X, y], [AUX_X, ends[k + 1]!])]));
  const taps = branch.marks.flatMap((mark) => (mark.sensor === "voltage" ? [mark.plus, mark.minus] : []));
  return {
    height: 284,
    lines: [...SUPPLY.lines, ...MAIN, wire([MAIN_X, TOP], [AUX_X, TOP]), ...down, wire([AUX_X, COIL_END], [AUX_X, BOTTOM], [MAIN_X, BOTTOM]), ...branch.paths],
    heavy: [coil(MAIN_X, COIL_Y), coil(AUX_X, COIL_Y), circle(...ROTOR)],
    dashed: taps.map(([x, y]) => wire([AUX_X, y], [x, y])),
    dots: [[MAIN_X, TOP], [MAIN_X, BOTTOM], ...taps.map(([, y]) => [AUX_X, y] as const)],
    notes: [...SUPPLY.notes, note(ROTOR[0], ROTOR[1] + 5, inside), note(MAIN_X - 8, COIL_Y + 62, words[0], "end"), note(AUX_X - 14, 140, words[1], "end")],
    marks: [...LINE, ring("auxiliary", [210, TOP], 0, [210, TOP - 18]), ...branch.marks, SHAFT],
  };
}

export const RUN_CAPACITOR = twoWindings(RUN, "", ["main", "auxiliary"]);
export const SPLIT_PHASE = twoWindings(SWITCH, "", ["main", "start"]);
export const CAPACITOR_START = twoWindings(START, "", ["main", "start"]);
export const SYNCHRONOUS = twoWindings(RUN, "N  S", ["main", "auxiliary"]);
export const SYNCHRONOUS_RELUCTANCE = withSalientRotor(twoWindings(RUN, "", ["main", "auxiliary"]));

/** A rotor of iron with two poles and no magnet. */
function withSalientRotor(drawing: Schematic): Schematic {
  const [x, y] = ROTOR;
  return { ...drawing, heavy: [...drawing.heavy, box(x - 17, y - 6, 34, 12)] };
}

export const SHADED_POLE: Schematic = {
  height: 284,
  lines: [...SUPPLY.lines, ...MAIN],
  heavy: [coil(MAIN_X, COIL_Y), circle(...ROTOR), "M255 168h12a13 13 0 0 1 0 26h-12a13 13 0 0 1 0 -26Z"],
  dashed: [],
  dots: [],
  notes: [...SUPPLY.notes, note(MAIN_X - 8, COIL_Y + 62, "main", "end"), note(258, COIL_Y + 10, "shading ring")],
  marks: [...LINE, SHAFT],
};

const MOTOR_X = 280;
const CONTROL = [116, 36, 52, 228] as const;

export const UNIVERSAL: Schematic = {
  height: 284,
  lines: [
    ...SUPPLY.lines,
    wire([25, TOP], [MOTOR_X, TOP], [MOTOR_X, 64]),
    wire([MOTOR_X, 106], [MOTOR_X, 126]),
    wire([MOTOR_X, 174], [MOTOR_X, 194]),
    wire([MOTOR_X, 236], [MOTOR_X, BOTTOM], [25, BOTTOM]),
  ],
  heavy: [coil(MOTOR_X, 64, 3), circle(MOTOR_X, 150, 24), coil(MOTOR_X, 194, 3)],
  dashed: [box(...CONTROL)],
  dots: [],
  notes: [...SUPPLY.notes, note(142, 140, "speed"), note(142, 157, "control,"), note(142, 174, "if any"), note(MOTOR_X + 14, 88, "field", "start"), note(MOTOR_X + 14, 218, "field", "start")],
  marks: [
    probe("supply", 44, TOP, BOTTOM),
    ring("line", [86, TOP], 0, [86, TOP - 18]),
    ring("motor", [192, TOP], 0, [192, TOP - 18]),
    probe("motor", 232, TOP, BOTTOM),
    tap("pulse", "shaft", [MOTOR_X + 17, 167], [MOTOR_X + 24, 186], "start"),
  ],
};
