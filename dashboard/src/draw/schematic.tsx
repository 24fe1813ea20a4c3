/** Draws where the board's sensors go: the circuit in thin lines, probes and sensors in the colours of what they measure. */
import type { JSX } from "preact";
import { type Anchor, type Mark, type ProbeMark, type RingMark, type Schematic, type Spot, type TapMark, WIDTH } from "../core/schematics/parts";
import { Drawing } from "./drawing";

const GROWN_MAX = 1.5; // larger than that it tells no more

export interface MarkLook {
  readonly name: string;
  readonly fitted: boolean; // the board has a channel for it
  readonly wrong: boolean;
}

interface Props {
  readonly schematic: Schematic;
  readonly title: string;
  readonly note: string;
  readonly sentence: string;
  readonly look: (mark: Mark) => MarkLook;
}

export function SchematicDrawing({ schematic, title, note, sentence, look }: Props): JSX.Element {
  const grown = (width: number): number => Math.min(GROWN_MAX, width / WIDTH);
  return (
    <Drawing
      title={title}
      note={note}
      sentence={sentence}
      height={(width) => schematic.height * grown(width)}
      words={({ width }) => (
        <g class="schematic" transform={`translate(${(width - WIDTH * grown(width)) / 2} 0) scale(${grown(width)})`}>
          <Circuit schematic={schematic} />
          {schematic.marks.map((mark) => <MarkDrawn key={`${mark.sensor} ${mark.place}`} mark={mark} look={look(mark)} />)}
        </g>
      )}
    />
  );
}

function Circuit({ schematic }: { schematic: Schematic }): JSX.Element {
  return (
    <>
      <path class="conductor" d={schematic.lines.join("")} />
      <path class="conductor maybe" d={schematic.dashed.join("")} />
      <path class="winding" d={schematic.heavy.join("")} />
      {schematic.dots.map(([x, y]) => <circle key={`${x} ${y}`} class="joined" cx={x} cy={y} r={2.5} />)}
      {schematic.notes.map(({ at: [x, y], text, anchor }) => <text key={`${x} ${y}`} class={`n ${ANCHORS[anchor]}`} x={x} y={y}>{text}</text>)}
    </>
  );
}

const ANCHORS: Readonly<Record<Anchor, string>> = { start: "", middle: "m", end: "e" };

function MarkDrawn({ mark, look }: { mark: Mark; look: MarkLook }): JSX.Element {
  const state = `${look.fitted ? "" : " unfitted"}${look.wrong ? " wrong" : ""}`;
  return (
    <g class={`mark-${mark.sensor}${state}`} data-point={`${mark.sensor} ${mark.place}`}>
      {mark.sensor === "voltage" ? <Probe mark={mark} look={look} /> : mark.sensor === "current" ? <Ring mark={mark} look={look} /> : <Tap mark={mark} look={look} />}
    </g>
  );
}

/** Like a dimension: a line between the two conductors, its name along it, a plus at the positive end. */
function Probe({ mark, look }: { mark: ProbeMark; look: MarkLook }): JSX.Element {
  const [[x, plus], [, minus]] = [mark.plus, mark.minus];
  const [nameX, nameY] = mark.name;
  return (
    <>
      <line class="probe" x1={x} x2={x} y1={plus} y2={minus} />
      <circle class="end" cx={x} cy={plus} r={4} />
      <circle class="end" cx={x} cy={minus} r={4} />
      <path class="sign" d={`M${x - 15} ${plus + 12}h8m-4 -4v8`} />
      {look.wrong && <Wrong at={[x, (plus + minus) / 2]} />}
      <g transform={`translate(${nameX} ${nameY}) rotate(-90)`}><Name anchor="middle" look={look} at={[0, 0]} /></g>
    </>
  );
}

/** A ring round the conductor, and the arrow on it that says which way counts as positive. */
function Ring({ mark, look }: { mark: RingMark; look: MarkLook }): JSX.Element {
  const [x, y] = mark.at;
  return (
    <>
      <g transform={`translate(${x} ${y}) rotate(${mark.towards})`}>
        <ellipse class="ring" rx={5} ry={11} />
        <line class="along" x1={-16} x2={16} y1={0} y2={0} />
        <path class="arrow" d="M27 0L14 5L14 -5Z" />
        {look.wrong && <g transform={`translate(-30 0) rotate(${-mark.towards})`}><Wrong at={[0, 0]} /></g>}
      </g>
      <Name anchor={mark.anchor} look={look} at={mark.name} />
    </>
  );
}

function Tap({ mark, look }: { mark: TapMark; look: MarkLook }): JSX.Element {
  const [x, y] = mark.at;
  return (
    <>
      <rect class="tap" x={x - 4} y={y - 4} width={8} height={8} />
      {look.wrong && <Wrong at={[x + 16, y]} />}
      <Name anchor={mark.anchor} look={look} at={mark.name} />
    </>
  );
}

function Name({ anchor, look, at: [x, y] }: { anchor: Anchor; look: MarkLook; at: Spot }): JSX.Element {
  return <text class={`b halo ${ANCHORS[anchor]}`} x={x} y={y}>{look.name}</text>;
}

/** The caution's triangle beside what the check has found wrong. */
function Wrong({ at: [x, y] }: { at: Spot }): JSX.Element {
  return <path class="not-right" d={`M${x} ${y - 8}l9 16h-18Zm0 5v5m0 2v2`} />;
}
