/** Three lines, and motors that an electronic drive feeds. */
import { type Mark, type Schematic, box, circle, coil, note, probe, ring, tap, wire } from "./parts";

const LINE_Y = [50, 100, 150] as const;
const STAR_Y = 246;
const LINES = ["L1", "L2", "L3"] as const;

export const THREE_PHASE: Schematic = {
  height: 290,
  lines: [
    ...LINE_Y.map((y) => circle(22, y, 3)),
    wire([25, 50], [246, 50], [261, 73]), wire([25, 100], [250, 100]), wire([25, 150], [246, 150], [261, 127]),
  ],
  heavy: [circle(288, LINE_Y[1], 38)],
  dashed: [wire([152, STAR_Y], [224, STAR_Y])],
  dots: [],
  notes: [
    ...LINE_Y.map((y, k) => note(22, y - 10, LINES[k]!)),
    note(288, LINE_Y[1] - 4, "M"),
    note(288, LINE_Y[1] + 14, "3 ~"),
    note(188, STAR_Y + 22, "star point of the probes"),
  ],
  marks: [
    ...LINES.map((line, k) => probe(line, 152 + 36 * k, LINE_Y[k]!, STAR_Y, 202)),
    ...LINES.map((line, k) => ring(line, [84, LINE_Y[k]!], 0, [84, LINE_Y[k]! - 17])),
    tap("pulse", "shaft", [288, LINE_Y[1] + 38], [288, LINE_Y[1] + 66]),
  ],
};

/** A coil between two leads of the driver, and its marks. */
function stepperCoil(number: number, top: number): { lines: readonly string[]; heavy: string; marks: readonly Mark[] } {
  const place = `coil ${number}`;
  return {
    lines: [wire([92, top], [210, top], [210, top + 11]), wire([210, top + 81], [210, top + 92], [92, top + 92])],
    heavy: coil(210, top + 11),
    marks: [probe(place, 172, top, top + 92), ring(place, [130, top], 0, [130, top - 17])],
  };
}

const COIL_1 = stepperCoil(1, 46);
const COIL_2 = stepperCoil(2, 178);

export const STEPPER: Schematic = {
  height: 292,
  lines: [box(16, 30, 76, 256), ...COIL_1.lines, ...COIL_2.lines],
  heavy: [COIL_1.heavy, COIL_2.heavy, circle(280, 158, 30), "M280 128v60M250 158h60"],
  dashed: [],
  dots: [],
  notes: [note(54, 162, "driver"), note(228, 96, "coil 1", "start"), note(228, 230, "coil 2", "start")],
  marks: [...COIL_1.marks, ...COIL_2.marks, tap("pulse", "shaft", [310, 158], [308, 206])],
};

export const SERVO: Schematic = {
  height: 284,
  lines: [
    circle(22, 70, 3), circle(22, 230, 3),
    wire([25, 70], [92, 70]), wire([25, 230], [92, 230]), box(92, 50, 66, 200),
    wire([158, 96], [270, 96], [270, 126]), wire([270, 174], [270, 204], [158, 204]),
  ],
  heavy: [circle(270, 150, 24)],
  dashed: [wire([294, 150], [316, 150], [316, 266], [125, 266], [125, 250])],
  dots: [],
  notes: [note(22, 60, "+"), note(22, 250, "−"), note(125, 155, "bridge"), note(220, 282, "encoder")],
  marks: [
    probe("supply", 52, 70, 230),
    probe("bridge", 218, 96, 204),
    ring("motor", [190, 96], 0, [190, 79]),
    tap("pulse", "shaft", [316, 200], [308, 205], "end"),
  ],
};

const PHASES = ["U", "V", "W"] as const;
const PHASE_Y = [110, 156, 202] as const;
const HALL_Y = [22, 42, 62] as const;
const HALL_ENDS = [136, 128, 126] as const; // on the motor's circle
const MINUS_Y = 286;

export const BRUSHLESS: Schematic = {
  height: 320,
  lines: [
    circle(22, 110, 3), circle(22, MINUS_Y, 3),
    wire([25, 110], [104, 110]), wire([25, MINUS_Y], [282, MINUS_Y]), wire([130, MINUS_Y], [130, 222]), box(104, 86, 52, 136),
    wire([156, 110], [277, 110], [291, 135]), wire([156, 156], [282, 156]), wire([156, 202], [277, 202], [291, 177]),
    ...HALL_Y.map((y, k) => wire([116 + 14 * k, 86], [116 + 14 * k, y], [334 - 12 * k, y], [334 - 12 * k, HALL_ENDS[k]!])),
  ],
  heavy: [circle(312, PHASE_Y[1], 30), wire([312, 156], [312, 140]), wire([312, 156], [298, 164]), wire([312, 156], [326, 164])],
  dashed: [],
  dots: [[130, MINUS_Y]],
  notes: [note(22, 100, "+"), note(22, MINUS_Y + 20, "−"), note(130, 160, "drive"), ...PHASES.map((phase, k) => note(163, PHASE_Y[k]! - 6, phase, "start"))],
  marks: [
    probe("dc link", 40, 110, MINUS_Y),
    ring("dc link", [78, 110], 0, [70, 92]),
    ...["A", "B", "C"].map((letter, k) => tap("hall", letter, [204, HALL_Y[k]!], [194, HALL_Y[k]! - 5], "end")),
    ...PHASES.map((phase, k) => probe(phase, 222 + 26 * k, PHASE_Y[k]!, MINUS_Y, 250)),
    ...PHASES.map((phase, k) => ring(phase, [186, PHASE_Y[k]!], 0, [186, PHASE_Y[k]! + 22])),
  ],
};
