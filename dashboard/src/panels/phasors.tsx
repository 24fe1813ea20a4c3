/**
 * Voltages and currents as arrows of their fundamentals, on the circle of one turn of the electrical angle. The first
 * voltage lies to the right; what leads stands further on counter-clockwise. Lengths of one kind are on one scale.
 */
import type { JSX } from "preact";
import { type Arrow, type Diagram, diagram, hasPhasors, phasorWords } from "../core/phasors";
import type { Picture } from "../core/picture";
import { placeWords } from "../core/rows";
import type { Store } from "../core/store";
import { Words } from "../draw/dimension";
import { Drawing, type TableData } from "../draw/drawing";
import type { Panel } from "./panel";

const RADIUS = 104;
const TOP = 30; // above the circle: names at its edge
const LINE = 20;
const WORDS = 3; // lines below it
const REACH = { voltage: 1, current: 0.7 } as const; // of the radius: the longest of each kind
const HEAD = { voltage: [11, 3.5], current: [14, 6] } as const;

function PhasorsView({ store }: { store: Store }): JSX.Element {
  const held = store.held.value?.picture;
  const picture = held ?? store.calm.value;
  const found = picture ? diagram(picture) : { arrows: [], reason: "no samples yet" };
  const words = picture ? phasorWords(picture, found) : [];
  return (
    <Drawing
      title="Phasors"
      note={found.reason ? `none: ${found.reason}` : against(found)}
      held={held ? "held" : ""}
      sentence={sentence(found, words)}
      faint={store.faint.value}
      height={() => 2 * (TOP + RADIUS) + WORDS * LINE}
      table={() => table(found)}
      words={({ width }) => (
        <>
          <Circle cx={width / 2} />
          {found.arrows.map((arrow) => <Drawn key={`${arrow.role} ${arrow.place}`} arrow={arrow} cx={width / 2} />)}
          {found.arrows.map((arrow) => <Name key={`${arrow.role} ${arrow.place}`} arrow={arrow} all={found.arrows} cx={width / 2} />)}
          {words.slice(0, WORDS).map((text, k) => <Words key={k} x={width / 2} y={2 * (TOP + RADIUS) + 10 + k * LINE} class="m">{text}</Words>)}
        </>
      )}
    />
  );
}

/** What all angles are against. */
function against({ arrows }: Diagram): string {
  const first = arrows.find(({ deg }) => deg === 0);
  return first ? `against the ${first.role}${first.place && ` ${placeWords(first.place)}`}, fundamentals` : "fundamentals";
}

const CY = TOP + RADIUS;

function at(cx: number, radius: number, deg: number): [number, number] {
  const rad = (deg * Math.PI) / 180;
  return [cx + radius * Math.cos(rad), CY - radius * Math.sin(rad)];
}

/** The turn, its quarters as ticks, and which way it goes on. */
function Circle({ cx }: { cx: number }): JSX.Element {
  const [fromX, fromY] = at(cx, RADIUS + 14, 52);
  const [toX, toY] = at(cx, RADIUS + 14, 72);
  return (
    <>
      <circle class="round" cx={cx} cy={CY} r={RADIUS} />
      {[0, 90, 180, 270].map((deg) => {
        const [[x1, y1], [x2, y2]] = [at(cx, RADIUS - 4, deg), at(cx, RADIUS + 4, deg)];
        return <line key={deg} class="hair" {...{ x1, y1, x2, y2 }} />;
      })}
      <path class="dim" d={`M${fromX} ${fromY}A${RADIUS + 14} ${RADIUS + 14} 0 0 0 ${toX} ${toY}`} />
      <path class="ink" d="M0 0L-8 2.4L-8 -2.4Z" transform={`translate(${toX} ${toY}) rotate(${-162})`} />
      <Words x={cx + RADIUS * 0.72} y={16} class="n">leads</Words>
    </>
  );
}

function Drawn({ arrow: { role, deg, length, mark }, cx }: { arrow: Arrow; cx: number }): JSX.Element {
  const reach = RADIUS * REACH[role] * length;
  const [long, wide] = HEAD[role];
  const [x, y] = at(cx, Math.max(reach - long * 0.8, 0), deg);
  const [tipX, tipY] = at(cx, reach, deg);
  return (
    <g class={mark ? "unsure" : ""}>
      <line class={`arrow ${role}`} x1={cx} y1={CY} x2={x} y2={y} />
      <path class={`tip ${role}`} d={`M0 0L${-long} ${wide}L${-long} ${-wide}Z`} transform={`translate(${tipX} ${tipY}) rotate(${-deg})`} />
    </g>
  );
}

const LETTER = { voltage: "U", current: "I" } as const;
const APART = 15; // degrees: nearer to another arrow of the same kind of reach a name would lie on it

/** Beyond the tip; of a current that lies along a voltage beside it. */
function Name({ arrow, all, cx }: { arrow: Arrow; all: readonly Arrow[]; cx: number }): JSX.Element {
  const { role, place, deg, length, mark } = arrow;
  const near = role === "current" ? all.find((other) => other.role === "voltage" && Math.abs(turn(other.deg - deg)) < APART) : undefined;
  const aside = near ? (turn(near.deg - deg) > 0 ? -1 : 1) * 13 : 0;
  const reach = RADIUS * REACH[role] * length + (near ? 2 : 15);
  const [x, y] = at(cx, reach, deg + aside);
  const side = Math.cos((deg * Math.PI) / 180);
  const anchor = near || Math.abs(side) < 0.5 ? "m" : side < 0 ? "e" : "";
  const low = place && (placeWords(place).replace(/^phase /, "").length > 3 ? ` ${placeWords(place)}` : place);
  return <Words x={x} y={y + 5} class={`${anchor} b ${role} halo${mark ? " doubt" : ""}`}>{LETTER[role]}{low && <tspan dy="0.25em" class="low">{low}</tspan>}</Words>;
}

function turn(deg: number): number {
  return ((deg + 540) % 360) - 180;
}

function sentence({ arrows, reason }: Diagram, words: readonly string[]): string {
  if (!arrows.length) return `No phasors: ${reason}.`;
  const each = arrows.map(({ role, place, words: [rms, deg] }) => `${role} ${place && `${placeWords(place)} `}${rms} at ${deg}`);
  return `${[...each, ...words].join("; ")}. Positive angles lead.`;
}

function table({ arrows }: Diagram): TableData {
  const rows = arrows.map(({ role, place, words: [rms, deg], mark }) => [`${role} ${placeWords(place)}`.trim(), rms, deg, mark || "no"]);
  return { head: ["fundamental", "RMS", "leads by", "doubtful"], rows };
}

const fits = (picture: Picture): boolean => hasPhasors(picture.readings);

export const PHASORS: Panel = { key: "phasors", side: "answers", fits, view: PhasorsView };
