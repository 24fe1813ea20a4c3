/** All screens in the order of the head; the first is shown where the address names none. The keys 1, 2, ... open them. */
import { CONNECT } from "./connect";
import { NIGHT } from "./night";
import { RIG } from "./rig";
import { RUNS } from "./runs";
import type { Screen } from "./screen";
import { WATCH } from "./watch";
import { WIRING } from "./wiring";

export const SCREENS: readonly Screen[] = [WATCH, WIRING, NIGHT, RUNS, RIG];

/** Those of the head, and what is reached from them alone. */
export const ALL_SCREENS: readonly Screen[] = [...SCREENS, CONNECT];
