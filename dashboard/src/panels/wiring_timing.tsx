/** Hall signals against the back-EMF between the leads: as found, and dashed where they belong; lateness as a dimension. */
import type { JSX } from "preact";
import { number, withUnit } from "../core/format";
import { FIRST_DEG, type HallTiming, type Timing, dimensionOf, levelPath, levelsOver, rightOver, wavePath } from "../core/wiring";
import { DimensionAcross, Low, Words } from "../draw/dimension";
import { Drawing, type Size, type TableData } from "../draw/drawing";

const PAIRS = ["UW", "VU", "WV"] as const;
const TOPS = [120, 240, 360] as const; // where each of them is greatest
const TRACK = 54; // from one Hall track to the next
const FIRST_TRACK = 112; // the low level of Hall A
const HIGH = 28;
const EMF = 36; // the zero line of the voltages
const EMF_HIGH = 26;
const ROWS = 244;
const SLIM_WORDS = 18; // a line of words instead of those at the margins

interface Props {
  readonly timing: Timing;
  readonly faint: boolean;
}

export function WiringTiming({ timing, faint }: Props): JSX.Element {
  const turns = number(timing.turns, timing.turns < 10 ? 1 : 0);
  const other = timing.ahead ? "" : ", for the other way round";
  return (
    <Drawing
      title="Hall signals against the back-EMF between leads"
      note={`mean of ${turns} electrical turns; 0° where U crosses zero upwards, in the direction U V W; dashed: where the signal should be${other}`}
      sentence={timing.sentence}
      faint={faint}
      height={(width) => ROWS + 72 + (width < 560 ? SLIM_WORDS : 0)}
      table={() => table(timing)}
      words={(size) => <Picture timing={timing} size={size} />}
    />
  );
}

function Picture({ timing, size }: { timing: Timing; size: Size }): JSX.Element {
  const { width, slim } = size;
  const turns = slim ? 1 : 2;
  const left = slim ? 22 : 92;
  const right = slim ? 4 : 104;
  const x = (deg: number): number => left + ((deg - FIRST_DEG) / (360 * turns)) * (width - left - right);
  const sixths = Array.from({ length: 6 * turns + 1 }, (_, k) => FIRST_DEG + 60 * k);
  return (
    <>
      {sixths.map((deg) => <line key={deg} class="faint" x1={x(deg)} x2={x(deg)} y1={58} y2={ROWS + 4} />)}
      <Emf timing={timing} x={x} turns={turns} left={left} edge={width - right} slim={slim} />
      {timing.halls.map((hall, k) => <Track key={hall.name} hall={hall} low={FIRST_TRACK + TRACK * k} x={x} turns={turns} left={left} edge={width - right} slim={slim} />)}
      <States timing={timing} x={x} turns={turns} left={left} edge={width - right} slim={slim} />
      {sixths.filter((_, k) => k % (slim ? 2 : 2) === 0).map((deg, k, all) => (
        <Words key={deg} x={x(deg)} y={ROWS + 68} class={k === 0 ? "n" : k === all.length - 1 ? "e n" : "m n"}>{`${deg}°`}</Words>
      ))}
    </>
  );
}

interface Part {
  readonly x: (deg: number) => number;
  readonly turns: number;
  readonly left: number;
  readonly edge: number;
  readonly slim: boolean;
}

function Emf({ timing, x, turns, left, edge, slim }: Part & { timing: Timing }): JSX.Element {
  const peak = timing.peak_v ?? 1;
  const y = (value: number): number => EMF - (EMF_HIGH * value) / (peak || 1);
  const digits = peak < 1 ? 2 : peak < 10 ? 1 : 0;
  return (
    <>
      <line class="faint" x1={left} x2={edge} y1={EMF} y2={EMF} />
      {PAIRS.map((pair) => <path key={pair} class="curve of-voltage" d={wavePath(timing.volts[pair] ?? [], timing.bin_deg, x, y, turns)} />)}
      {PAIRS.map((pair, k) => <Words key={pair} x={x(TOPS[k]!)} y={EMF - EMF_HIGH + 16} class="m b voltage halo">{pair}</Words>)}
      {!slim && <Words x={left - 12} y={EMF + 5} class="e b voltage">back-EMF</Words>}
      {!slim && (
        <>
          <text class="voltage" transform={`translate(${edge + 12} ${EMF - 4})`}>{PAIRS.map((pair) => <Low key={pair} base={pair === "UW" ? "e" : " e"} index={pair} />)}</text>
          <Words x={edge + 12} y={EMF + 16} class="voltage">{`±${withUnit(number(peak, digits), "V")}`}</Words>
        </>
      )}
    </>
  );
}

function Track({ hall, low, x, turns, left, edge, slim }: Part & { hall: HallTiming; low: number }): JSX.Element {
  const dimension = dimensionOf(hall, turns);
  const y = low + 13;
  return (
    <g>
      {(hall.dimension || hall.rise_deg === null) && <path class="ghost level" d={levelPath(rightOver(hall.right_deg, turns), x, low, low - HIGH, turns)} />}
      <path class="level" d={levelPath(levelsOver(hall, turns), x, low, low - HIGH, turns)} />
      <Words x={left - (slim ? 6 : 12)} y={low - 8} class="e b">{slim ? hall.name : `Hall ${hall.name}`}</Words>
      {!slim && hall.words.map((line, k) => <Words key={k} x={edge + 12} y={low - 14 + 18 * k} class={k === 0 && (hall.dimension || hall.rise_deg === null) ? "b" : "n"}>{line}</Words>)}
      {dimension && (
        <>
          <DimensionAcross from={x(dimension.from)} to={x(dimension.to)} y={y} reachFrom={low - HIGH} />
          <Words x={(x(dimension.from) + x(dimension.to)) / 2} y={y - 5} class="m b halo">{`${number(Math.abs(hall.late_deg!), 0)}°`}</Words>
        </>
      )}
    </g>
  );
}

/** Two rows of states: as found, wrong ones boxed, and as they should be. */
function States({ timing, x, turns, left, edge, slim }: Part & { timing: Timing }): JSX.Element {
  const wide = x(90) - x(30) - 4;
  const all = Array.from({ length: turns }, (_, turn) => timing.found.map((found, k) => ({ found, right: timing.right[k], deg: 60 + 60 * k + 360 * turn }))).flat();
  return (
    <>
      {slim ? <Words x={left} y={ROWS + 86} class="n">states C B A: as found, and below them right</Words> : (
        <>
          <Words x={left - 12} y={ROWS + 24} class="e b">found</Words>
          <Words x={left - 12} y={ROWS + 46} class="e n">right</Words>
          <Words x={edge + 12} y={ROWS + 24} class="n">state C B A</Words>
        </>
      )}
      {all.map(({ found, right, deg }) => (
        <g key={deg}>
          {found !== right && <rect class="boxed" x={x(deg) - wide / 2} y={ROWS + 8} width={wide} height={21} />}
          <Words x={x(deg)} y={ROWS + 25} class="m b l">{found}</Words>
          <Words x={x(deg)} y={ROWS + 46} class="m n">{right}</Words>
        </g>
      ))}
    </>
  );
}

function table(timing: Timing): TableData {
  const halls = timing.halls.map((hall) => [`Hall ${hall.name}`, hall.rise_deg === null ? hall.words.join(" ") : `rises at ${Math.round(hall.rise_deg)}°`, `${Math.round(hall.right_deg)}°`, hall.words[0] ?? ""]);
  const states = timing.found.map((found, k) => [`state from ${30 + 60 * k}°`, String(found), String(timing.right[k]), found === timing.right[k] ? "right" : "wrong"]);
  return { head: ["", "found", "right", ""], rows: [...halls, ...states] };
}
