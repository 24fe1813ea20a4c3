/** The drawing of each motor type, by its key. */
import { COMPOUND, PERMANENT_MAGNET, SERIES, SHUNT } from "./direct";
import { BRUSHLESS, SERVO, STEPPER, THREE_PHASE } from "./driven";
import type { Schematic } from "./parts";
import { CAPACITOR_START, RUN_CAPACITOR, SHADED_POLE, SPLIT_PHASE, SYNCHRONOUS, SYNCHRONOUS_RELUCTANCE, UNIVERSAL } from "./single_phase";

export const SCHEMATICS: Readonly<Record<string, Schematic>> = {
  permanent_split_capacitor: RUN_CAPACITOR,
  split_phase: SPLIT_PHASE,
  capacitor_start: CAPACITOR_START,
  shaded_pole: SHADED_POLE,
  three_phase_induction: THREE_PHASE,
  synchronous: SYNCHRONOUS,
  synchronous_reluctance: SYNCHRONOUS_RELUCTANCE,
  universal: UNIVERSAL,
  series_dc: SERIES,
  shunt_dc: SHUNT,
  compound_dc: COMPOUND,
  permanent_magnet_dc: PERMANENT_MAGNET,
  stepper: STEPPER,
  servo: SERVO,
  brushless: BRUSHLESS,
};
