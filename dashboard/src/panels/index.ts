/** All panels in reading order. What a screen can show is answered by reading this list. */
import { BOARD } from "./board";
import { CONNECTIONS } from "./connections";
import { HALL } from "./hall";
import { HARMONICS } from "./harmonics";
import { KEEP } from "./keep";
import type { Panel } from "./panel";
import { PHASORS } from "./phasors";
import { READINGS } from "./readings";
import { SPECTRUM } from "./spectrum";
import { STORY } from "./story";
import { STRIP } from "./strip";
import { TRACE } from "./trace";
import { VERDICT } from "./verdict";

export const PANELS: readonly Panel[] = [TRACE, STRIP, READINGS, HARMONICS, SPECTRUM, HALL, STORY, KEEP, PHASORS, CONNECTIONS, BOARD, VERDICT];
