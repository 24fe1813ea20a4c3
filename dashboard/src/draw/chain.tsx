/** The chain motor, board, this PC, page: broken exactly where it is broken. One drawing for every connection state. */
import type { JSX } from "preact";
import type { ConnectionState } from "../core/picture";
import { Drawing } from "./drawing";

type Joint = "whole" | "trying" | "broken" | "unknown";

export interface ChainLook {
  readonly known: readonly [boolean, boolean, boolean, boolean]; // motor, board, PC, page: filled when it is known to be there
  readonly joints: readonly [Joint, Joint, Joint];
  readonly words: readonly [string, string, string];
  readonly sentence: string;
}

/** What is broken in each state; `words` may be replaced by figures where the chain is whole. */
export function chainOf(state: ConnectionState, linked: boolean, wire: string, age: string): ChainLook {
  if (!linked) return { ...LOOKS.gone, sentence: "The page does not reach the PC; what lies behind it is not known." };
  const look = LOOKS[state];
  const words: ChainLook["words"] = state === "live" ? ["", wire, age] : look.words;
  return { ...look, words };
}

const ALL: ChainLook["known"] = [true, true, true, true];

const LOOKS: Record<ConnectionState | "gone", ChainLook> = {
  live: { known: ALL, joints: ["whole", "whole", "whole"], words: ["", "", ""], sentence: "All links are alive." },
  no_board: {
    known: [false, false, true, true],
    joints: ["unknown", "trying", "whole"],
    words: ["", "looking", ""],
    sentence: "PC and page work; no board was found.",
  },
  connecting: {
    known: ALL,
    joints: ["unknown", "trying", "whole"],
    words: ["", "asking", ""],
    sentence: "The port is open; the board has not said yet what it measures.",
  },
  refused: {
    known: [false, true, true, true],
    joints: ["unknown", "broken", "whole"],
    words: ["", "refused", ""],
    sentence: "What is on the port cannot be read.",
  },
  settings_refused: {
    known: [false, false, true, true],
    joints: ["unknown", "unknown", "whole"],
    words: ["", "", ""],
    sentence: "PC and page work; no port is opened before the settings can be read.",
  },
  ended: {
    known: [false, false, true, true],
    joints: ["unknown", "broken", "whole"],
    words: ["", "ended", ""],
    sentence: "PC and page work; the software board has ended.",
  },
  no_rig: {
    known: [false, false, true, true],
    joints: ["unknown", "unknown", "whole"],
    words: ["", "", ""],
    sentence: "PC and page work; there is no rig of this name.",
  },
  stale: {
    known: ALL,
    joints: ["whole", "trying", "whole"],
    words: ["", "no samples", ""],
    sentence: "The wire is open, but no samples come.",
  },
  too_old: {
    known: ALL,
    joints: ["whole", "trying", "whole"],
    words: ["", "no samples", ""],
    sentence: "The wire is open, but no samples come.",
  },
  disconnected: {
    known: ALL,
    joints: ["whole", "broken", "whole"],
    words: ["", "cable out", ""],
    sentence: "The wire between board and PC is broken.",
  },
  gone: {
    known: [false, false, false, true],
    joints: ["unknown", "unknown", "broken"],
    words: ["", "", "no answer"],
    sentence: "",
  },
};

const NAMES = ["motor", "board", "this PC", "this page"];
const R = 13;
const Y = 28;

export function Chain({ look }: { look: ChainLook }): JSX.Element {
  return (
    <Drawing
      title="From motor to page"
      sentence={look.sentence}
      height={() => 68}
      words={({ width }) => {
        const x = (k: number): number => 40 + (k * (width - 80)) / 3;
        return (
          <>
            {look.joints.map((joint, k) => <JointLine key={k} joint={joint} from={x(k) + R} to={x(k + 1) - R} word={look.words[k] ?? ""} />)}
            {NAMES.map((name, k) => (
              <g key={name}>
                <circle class={look.known[k] ? "node" : "node missing"} cx={x(k)} cy={Y} r={R} />
                <text class="m" x={x(k)} y={Y + 32}>{name}</text>
              </g>
            ))}
          </>
        );
      }}
    />
  );
}

function JointLine({ joint, from, to, word }: { joint: Joint; from: number; to: number; word: string }): JSX.Element {
  const middle = (from + to) / 2;
  const cut = `M${from} ${Y}H${middle - 9}M${middle + 9} ${Y}H${to}M${middle - 13} ${Y + 8}l8 -16M${middle + 5} ${Y + 8}l8 -16`;
  return (
    <g>
      {joint === "whole" && <line class="link" x1={from} x2={to} y1={Y} y2={Y} />}
      {joint === "trying" && <line class="link trying" x1={from} x2={to} y1={Y} y2={Y} />}
      {joint === "broken" && <path class="link" d={cut} />}
      {word && <text class="m n" x={middle} y={13}>{word}</text>}
    </g>
  );
}
