/** Names and figures at the axes of the strip: how far speed and current went since the start. */
import type { JSX } from "preact";
import { number, rough, withUnit } from "../core/format";
import type { Strip } from "../core/picture";
import { Words } from "../draw/dimension";
import { type StripLayout, reached } from "./strip_layout";

const LINE = 17; // words of 14 px need this much from one to the next

interface Props {
  readonly strip: Strip;
  readonly layout: StripLayout;
  readonly unit: string; // of speeds
}

/** Left of the lines: a range frame, its ends the highest and the lowest, the name between. */
export function StripScale({ strip, layout, unit }: Props): JSX.Element {
  const { highest_rpm, lowest_rpm, highest_a } = reached(strip);
  const { left, speedY, currentY } = layout;
  const rpm = (value: number): Mark => ({ text: number(value), y: speedY(value) });
  const speeds = [highest_rpm, 0, lowest_rpm].filter((value, k) => k === 1 || Math.abs(speedY(value) - speedY(0)) >= LINE);
  const amps = highest_a > 0 ? [{ text: rough(highest_a, "A"), y: currentY(highest_a) }] : [];
  return (
    <>
      <Axis x={left} role="speed" unit={unit} marks={speeds.map(rpm)} />
      <Axis x={left} role="current" unit="" marks={[...amps, { text: "0", y: currentY(0) }]} />
    </>
  );
}

interface Mark {
  readonly text: string;
  readonly y: number;
}

function Axis({ x, role, unit, marks }: { x: number; role: string; unit: string; marks: readonly Mark[] }): JSX.Element {
  const [first, last] = [marks[0]!, marks[marks.length - 1]!];
  const room = gapOf(marks);
  const roomForUnit = unit !== "" && room.length >= 4 * LINE;
  const middle = (room.top + room.foot) / 2 + 5;
  return (
    <>
      {first.y < last.y && <line class="hair" x1={x - 8} x2={x - 8} y1={first.y} y2={last.y} />}
      {marks.map(({ text, y }) => <Words key={text} x={x - 14} y={y + 5} class={text === "0" ? "e n" : `e ${role}`}>{text}</Words>)}
      {room.length >= 2 * LINE && <Words x={x - 14} y={middle - (roomForUnit ? LINE / 2 : 0)} class={`e b ${role}`}>{role}</Words>}
      {room.length < 2 * LINE && <Words x={x - 14} y={first.y - (marks.length > 1 ? LINE - 5 : 12)} class={`e b ${role}`}>{role}</Words>}
      {roomForUnit && <Words x={x - 14} y={middle + LINE / 2} class="e n">{unit}</Words>}
    </>
  );
}

/** The widest stretch between two figures. */
function gapOf(marks: readonly Mark[]): { top: number; foot: number; length: number } {
  const gaps = marks.slice(1).map(({ y }, k) => ({ top: marks[k]!.y, foot: y, length: y - marks[k]!.y }));
  return gaps.reduce((most, gap) => (gap.length > most.length ? gap : most), { top: 0, foot: 0, length: 0 });
}

/** On a narrow drawing a line of words above each of both. */
export function SlimScale({ strip, layout, unit }: Props): JSX.Element {
  const { highest_rpm, lowest_rpm, highest_a } = reached(strip);
  const from = lowest_rpm < -0.02 * highest_rpm ? `${number(lowest_rpm)} to ` : "up to ";
  return (
    <>
      <Line y={14} x={layout.left} role="speed" words={from + withUnit(number(highest_rpm), unit)} />
      <Line y={layout.currentTop - 8} x={layout.left} role="current" words={`up to ${rough(highest_a, "A")}`} />
    </>
  );
}

function Line({ x, y, role, words }: { x: number; y: number; role: string; words: string }): JSX.Element {
  return (
    <text class="halo" transform={`translate(${x} ${y})`}>
      <tspan class={`b ${role}`}>{role}</tspan>
      <tspan class="n" dx="6">{words}</tspan>
    </text>
  );
}
