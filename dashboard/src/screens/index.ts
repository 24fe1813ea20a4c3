/** All screens in the order of the head; the first is shown where the address names none. The keys 1, 2, ... open them. */
import { RIG } from "./rig";
import { RUNS } from "./runs";
import type { Screen } from "./screen";
import { WATCH } from "./watch";

export const SCREENS: readonly Screen[] = [WATCH, RUNS, RIG];
