/** The Hall ring: six sectors of one electrical turn, the states that came outside, those that should come inside, and where the shaft is. */
import { useComputed } from "@preact/signals";
import type { JSX } from "preact";
import { foundBySector, turnsTooFast } from "../core/hall";
import type { Hall, Picture } from "../core/picture";
import { footnotes } from "../core/reasons";
import { shown } from "../core/shown";
import type { Store } from "../core/store";
import { Leader, Words } from "../draw/dimension";
import { Drawing, type TableData } from "../draw/drawing";
import type { Panel } from "./panel";

const HEIGHT = 316;
const OUTER = 122;
const MIDDLE = 81;
const INNER = 46;
/** Why the ring shows less than it might, where that stays so; all others stand in the list of readings. */
const REASONED = ["hall_state", "sector", "commutation_valid"];

/** States of the six sectors, sector 1 first, where the angle of the leads' voltages tells which is which. */
export interface Sectors {
  readonly found: readonly number[];
  readonly right: readonly number[];
}

export function HallView({ store, sectors }: { store: Store; sectors?: Sectors }): JSX.Element {
  const held = store.held.value?.picture;
  const calm = held ?? store.calm.value;
  const hall = calm?.hall ? (sectors ? { ...calm.hall, right: sectors.right } : calm.hall) : null;
  const now = useComputed(() => store.shown.value?.hall ?? null);
  const state = useComputed(() => now.value?.state ?? null);
  const tick = useComputed(() => now.value?.electrical_deg ?? null);
  if (!calm || !hall) return <></>;
  const fast = turnsTooFast(calm);
  const reasons = footnotes(REASONED.filter((key) => calm.readings[key]).map((key) => shown(store.quantity(key), calm.readings[key])));
  return (
    <Drawing
      title={sectors ? "Six sectors, with their Hall states" : "Hall states"}
      note={held ? "" : sectors ? "by the angle of the leads' voltages" : note(hall, calm)}
      held={held ? "held" : ""}
      sentence={sentence(hall, sectors)}
      faint={store.faint.value}
      height={() => HEIGHT}
      table={() => table(hall, sectors)}
      below={(
        <>
          {sectors && <p class="second note">{apart(hall)}</p>}
          {reasons.length > 0 && <ul class="notes">{reasons.map((reason) => <li key={reason}>{reason}</li>)}</ul>}
        </>
      )}
      words={({ width }) => (
        <>
          <Ring hall={hall} found={sectors?.found ?? foundBySector(hall)} cx={width / 2} state={state.value} tick={fast || sectors ? null : tick.value} fast={fast} />
          <Legend hall={hall} found={sectors?.found ?? foundBySector(hall)} cx={width / 2} width={width} />
        </>
      )}
    />
  );
}

/** Short, so that it never takes a second line. */
function note({ valid }: Hall, { readings }: Picture): string {
  if (valid === null) return "order not seen yet";
  if (readings["commutation_valid"]?.confidence === "doubtful") return "order doubtful";
  return valid ? "order right" : "order not right";
}

function point(cx: number, radius: number, deg: number): string {
  const [x, y] = place(cx, radius, deg);
  return `${x.toFixed(1)} ${y.toFixed(1)}`;
}

/** Angle 0 is at the top, forward is clockwise. */
function place(cx: number, radius: number, deg: number): [number, number] {
  const rad = (deg * Math.PI) / 180;
  return [cx + radius * Math.sin(rad), HEIGHT / 2 - radius * Math.cos(rad)];
}

function segment(cx: number, inner: number, outer: number, from: number, to: number): string {
  const arc = (radius: number, deg: number, sweep: number): string => `A${radius} ${radius} 0 0 ${sweep} ${point(cx, radius, deg)}`;
  return `M${point(cx, outer, from)}${arc(outer, to, 1)}L${point(cx, inner, to)}${arc(inner, from, 0)}Z`;
}

/** `state` and `tick` are those of the newest picture: they follow a hand. */
function Ring({ hall, found, cx, state: now, tick, fast }: { hall: Hall; found: readonly number[]; cx: number; state: number | null; tick: number | null; fast: boolean }): JSX.Element {
  return (
    <>
      <defs>
        <pattern id="wrong" width="6" height="6" patternUnits="userSpaceOnUse" patternTransform="rotate(45)">
          <line class="hatch" x1="0" y1="0" x2="0" y2="6" />
        </pattern>
      </defs>
      {hall.right.map((right, k) => {
        const [from, to] = [30 + 60 * k + 1.4, 90 + 60 * k - 1.4];
        const state = found[k];
        const wrong = state !== undefined && state !== right;
        const here = !fast && now === state && state !== undefined;
        const [x, y] = place(cx, (OUTER + MIDDLE) / 2, 60 + 60 * k);
        const [u, v] = place(cx, (MIDDLE + INNER) / 2, 60 + 60 * k);
        return (
          <g key={k}>
            <path class={`sector${state === undefined ? " unseen" : ""}${here ? " here" : ""}`} d={segment(cx, MIDDLE + 2, OUTER, from, to)} />
            {wrong && <path fill="url(#wrong)" d={segment(cx, MIDDLE + 2, OUTER, from, to)} />}
            <path class="sector right" d={segment(cx, INNER, MIDDLE - 2, from, to)} />
            {wrong && <circle class="patch" cx={x} cy={y} r={15} />}
            <Words x={x} y={y + 8} class="m b big">{state ?? "–"}</Words>
            <Words x={u} y={v + 6} class="m n l">{right}</Words>
          </g>
        );
      })}
      <Direction hall={hall} cx={cx} />
      {tick !== null && <ShaftTick cx={cx} deg={tick} />}
    </>
  );
}

/** The order found, as an arrow in the middle: clockwise is forward. */
function Direction({ hall, cx }: { hall: Hall; cx: number }): JSX.Element {
  const sign = hall.direction ?? 0;
  const word = sign > 0 ? "forward" : sign < 0 ? "backward" : "at rest";
  const [from, to] = sign >= 0 ? [-60, 50] : [60, -50];
  const [x, y] = place(cx, 34, to);
  const arrow = `M${point(cx, 34, from)}A34 34 0 0 ${sign >= 0 ? 1 : 0} ${point(cx, 34, to)}`;
  return (
    <>
      {sign !== 0 && <path class="dim" d={arrow} />}
      {sign !== 0 && <path class="ink" d="M0 0L-9 2.6L-9 -2.6Z" transform={`translate(${x} ${y}) rotate(${sign > 0 ? to : to + 180})`} />}
      <Words x={cx} y={HEIGHT / 2 + 6} class="m n">{word}</Words>
    </>
  );
}

/** Which ring is which, and how it is read. */
function Legend({ hall, found, cx, width }: { hall: Hall; found: readonly number[]; cx: number; width: number }): JSX.Element {
  const [outerX, outerY] = place(cx, OUTER - 8, 327);
  const [innerX, innerY] = place(cx, INNER + 9, 211);
  const cameX = Math.max(0, cx - 158);
  const wrong = hall.right.some((right, k) => found[k] !== undefined && found[k] !== right);
  return (
    <>
      <Leader x={outerX} y={outerY} toX={cameX + 39} toY={20} />
      <Words x={cameX} y={18} class="b">came</Words>
      <Leader x={innerX} y={innerY} toX={cx - 112} toY={HEIGHT - 34} />
      <Words x={0} y={HEIGHT - 22} class="b">should come</Words>
      <Words x={0} y={HEIGHT - 5} class="n">Hall C B A as one number</Words>
      <Words x={width} y={HEIGHT - 22} class="e n">one electrical turn,</Words>
      <Words x={width} y={HEIGHT - 5} class="e n">clockwise forward</Words>
      {wrong && <Words x={width} y={18} class="e n">hatched: wrong</Words>}
    </>
  );
}

function ShaftTick({ cx, deg }: { cx: number; deg: number }): JSX.Element {
  const [x, y] = place(cx, OUTER + 18, deg);
  const right = x > cx;
  return (
    <>
      <path class="tick" d={`M${point(cx, OUTER + 3, deg)}L${point(cx, OUTER + 14, deg)}`} />
      <Words x={x + (right ? 2 : -2)} y={y + 5} class={right ? "" : "e"}>{`${Math.round(deg)}°`}</Words>
    </>
  );
}

function sentence(hall: Hall, sectors?: Sectors): string {
  const came = sectors?.found ?? hall.seen;
  const seen = came.length ? `Came ${came.join(" ")}` : "No states came yet";
  const verdict = sectors || hall.valid === null ? "" : hall.valid ? ", which is right" : ", which is not right";
  return `Ring of six sectors. Should come ${hall.right.join(" ")}. ${seen}${verdict}.`;
}

/** States that should not come stand apart, with how often each came. */
function apart(hall: Hall): string {
  const illegal = hall.counts.map((count, state) => ({ count, state })).filter(({ state }) => !hall.right.includes(state));
  const said = illegal.map(({ count, state }) => `${state} ${count ? `${count} times` : "never"}`);
  return `Should not come: ${said.join(", ")}, since the board started.`;
}

function table(hall: Hall, sectors?: Sectors): TableData {
  const found = sectors?.found ?? foundBySector(hall);
  const rows = hall.right.map((right, k) => [`sector ${k + 1}`, String(right), String(found[k] ?? "–"), String(hall.counts[right] ?? 0)]);
  const illegal = hall.counts.flatMap((count, state) => (hall.right.includes(state) ? [] : [[`state ${state}, illegal`, "–", "–", String(count)]]));
  return { head: ["", "should come", "came", "times entered"], rows: [...rows, ...illegal] };
}

const fits = (picture: Picture): boolean => picture.hall !== null;

export const HALL: Panel = { key: "hall", side: "answers", fits, view: HallView };
