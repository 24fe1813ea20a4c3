/** Motors with a commutator on direct current. */
import { type Schematic, circle, coil, leads, lyingCoil, note, probe, ring, tap, wire } from "./parts";

const [TOP, BOTTOM] = [50, 250];
const SUPPLY = leads("+", "−", TOP, BOTTOM);
const MOTOR_X = 280;
const ARMATURE = [MOTOR_X, 150, 24] as const;
const SHAFT = tap("pulse", "shaft", [MOTOR_X + 17, 167], [MOTOR_X + 24, 188], "start");
/** A contact that opens, in a conductor that goes to the right, and what joins it. */
const SWITCH = [wire([25, TOP], [98, TOP]), wire([98, TOP], [120, TOP - 12])];

const ON_TWO_LEADS = {
  height: 284,
  dashed: [],
  dots: [],
  marks: [
    probe("supply", 50, TOP, BOTTOM),
    ring("motor", [176, TOP], 0, [176, TOP - 18]),
    probe("motor", 214, TOP, BOTTOM),
    SHAFT,
  ],
} as const;

export const PERMANENT_MAGNET: Schematic = {
  ...ON_TWO_LEADS,
  lines: [...SUPPLY.lines, ...SWITCH, wire([122, TOP], [MOTOR_X, TOP], [MOTOR_X, 126]), wire([MOTOR_X, 174], [MOTOR_X, BOTTOM], [25, BOTTOM])],
  heavy: [circle(...ARMATURE), "M248 128v44M312 128v44"],
  notes: [...SUPPLY.notes, note(109, TOP + 18, "switch"), note(248, 120, "N"), note(312, 120, "S")],
};

export const SERIES: Schematic = {
  ...ON_TWO_LEADS,
  lines: [
    ...SUPPLY.lines, ...SWITCH,
    wire([122, TOP], [MOTOR_X, TOP], [MOTOR_X, 66]),
    wire([MOTOR_X, 108], [MOTOR_X, 126]),
    wire([MOTOR_X, 174], [MOTOR_X, BOTTOM], [25, BOTTOM]),
  ],
  heavy: [coil(MOTOR_X, 66, 3), circle(...ARMATURE)],
  notes: [...SUPPLY.notes, note(109, TOP + 18, "switch"), note(MOTOR_X + 14, 92, "field", "start")],
};

const ARMATURE_V_X = 222;
const FIELD_X = 112;
const FIELD_Y = 124;
const FIELD_END = FIELD_Y + 70;

function withFieldBeside(seriesField: boolean): Schematic {
  const intoArmature = seriesField ? [wire([25, TOP], [196, TOP]), wire([238, TOP], [MOTOR_X, TOP], [MOTOR_X, 126])] : [wire([25, TOP], [MOTOR_X, TOP], [MOTOR_X, 126])];
  return {
    height: 284,
    lines: [
      ...SUPPLY.lines, ...intoArmature,
      wire([FIELD_X, TOP], [FIELD_X, FIELD_Y]),
      wire([FIELD_X, FIELD_END], [FIELD_X, BOTTOM]),
      wire([MOTOR_X, 174], [MOTOR_X, BOTTOM], [25, BOTTOM]),
    ],
    heavy: [coil(FIELD_X, FIELD_Y), circle(...ARMATURE), ...(seriesField ? [lyingCoil(196, TOP, 3)] : [])],
    dashed: [wire([FIELD_X, 108], [FIELD_X + 36, 108]), wire([FIELD_X, 210], [FIELD_X + 36, 210]), wire([MOTOR_X, 108], [ARMATURE_V_X, 108]), wire([MOTOR_X, 192], [ARMATURE_V_X, 192])],
    dots: [[FIELD_X, TOP], [FIELD_X, BOTTOM], [FIELD_X, 108], [FIELD_X, 210], [MOTOR_X, 108], [MOTOR_X, 192]],
    notes: [
      ...SUPPLY.notes,
      note(FIELD_X - 10, 163, "shunt field", "end"),
      note(MOTOR_X + 10, 112, "A1", "start"),
      note(MOTOR_X + 10, 212, "A2", "start"),
      ...(seriesField ? [note(217, TOP + 18, "series field")] : []),
    ],
    marks: [
      probe("armature", ARMATURE_V_X, 108, 192),
      ring("armature", seriesField ? [158, TOP] : [196, TOP], 0, seriesField ? [158, TOP - 18] : [196, TOP - 18]),
      probe("field", FIELD_X + 36, 108, 210),
      ring("field", [FIELD_X, 80], 90, [FIELD_X - 16, 85], "end"),
      SHAFT,
    ],
  };
}

export const SHUNT = withFieldBeside(false);
export const COMPOUND = withFieldBeside(true);
