/** Names, limits, leaders, slip and axis of the strip since the start. */
import type { JSX } from "preact";
import { number, typeset, withUnit } from "../core/format";
import { limitWords } from "../core/limits";
import type { Picture, Quantity, Reading, Strip } from "../core/picture";
import { inWords, isStarting, keyOf, numberOf, shown } from "../core/shown";
import { ticks, timeUnit } from "../core/ticks";
import { speedWords } from "../core/units";
import { DimensionUpright, Leader, Low, Words } from "../draw/dimension";
import { RIBBON } from "../draw/ribbon";
import type { StripLayout } from "./strip_layout";
import { placeLeaders } from "./strip_leaders";
import { type StripLimit, stripLimits } from "./strip_limits";
import { SlimScale, StripScale } from "./strip_scale";

interface Props {
  readonly strip: Strip;
  readonly picture: Picture;
  readonly layout: StripLayout;
  readonly slim: boolean;
}

export function StripWords(props: Props): JSX.Element {
  const { layout, slim } = props;
  return (
    <>
      {slim ? <SlimScale {...props} unit={props.picture.speed_unit} /> : <StripScale {...props} unit={props.picture.speed_unit} />}
      {!slim && <Words x={layout.left - 14} y={layout.ribbonY + 14} class="e b">state</Words>}
      <Limits {...props} />
      <Leaders {...props} />
      <Now {...props} />
      <Ribbon {...props} />
      <Axis {...props} />
    </>
  );
}

/** What a person set stands on the side of its line where the curve is not, at its end: n_s has the beginning. */
function Limits({ picture, layout }: Props): JSX.Element {
  const current = picture.far.find((id) => keyOf(id).startsWith("current_")) ?? "";
  const now = (role: StripLimit["role"]): number => numberOf(picture.readings, role === "speed" ? "speed_rpm" : keyOf(current)) ?? 0;
  return (
    <>
      {stripLimits(picture, layout).map(({ role, value, y }) => (
        <Words key={`${role} ${value}`} x={layout.right - 4} y={now(role) > value && y + 15 < layout.ribbonY - 8 ? y + 15 : y - 5} class="n e halo">limit {limitWords(value, role === "speed" ? picture.speed_unit : "A")}</Words>
      ))}
    </>
  );
}

function Leaders({ strip, picture, layout, slim }: Props): JSX.Element {
  return (
    <>
      {placeLeaders(picture.events, strip, layout, slim).map(({ event, x, y, words }) =>
        words ? (
          <g key={`${event.utc_s} ${event.text}`}>
            <Leader x={x} y={y} toX={words.x + (words.ends ? 4 : -4)} toY={words.y - 5} />
            <Words x={words.x} y={words.y} class={words.ends ? "e halo" : "halo"}>{typeset(event.text)}</Words>
          </g>
        ) : (
          <circle key={`${event.utc_s} ${event.text}`} class="ink" cx={x} cy={y} r={2.5} />
        ),
      )}
    </>
  );
}

/** Where both lines end, the numbers of the far line; slip as a dimension between n_s and n. */
function Now({ strip, picture, layout, slim }: Props): JSX.Element {
  const speed = numberOf(picture.readings, "speed_rpm");
  const ns = strip.synchronous_speed_rpm;
  const amps = picture.far.find((id) => keyOf(id).startsWith("current_")) ?? "";
  const current = lastOf(strip);
  return (
    <>
      {ns !== null && <Words x={layout.left} y={layout.speedY(ns) - 6} class="n halo"><Low base="n" index="s" /> {speedWords(ns, picture.speed_unit)}</Words>}
      {ns !== null && speed !== null && <Slip {...{ ns, speed, picture, layout, slim }} />}
      {ns === null && speed !== null && <End reading={picture.readings["speed_rpm"]} role="speed" y={layout.speedY(speed)} {...{ layout, slim }} />}
      {current !== null && <End reading={picture.readings[amps]} role="current" y={layout.currentY(current)} {...{ layout, slim }} />}
    </>
  );
}

const SPEED: Quantity = { key: "speed_rpm", symbol: "n", label: "speed", unit: "", digits: 0 }; // the axis says the unit
const CURRENT: Quantity = { key: "current", symbol: "I", label: "current", unit: "A", digits: 2 };

interface EndProps {
  readonly reading: Reading | undefined;
  readonly role: "speed" | "current";
  readonly y: number;
  readonly layout: StripLayout;
  readonly slim: boolean;
}

function End({ reading, role, y, layout, slim }: EndProps): JSX.Element | null {
  const look = shown(role === "speed" ? SPEED : CURRENT, reading, false, true);
  if (look.mark === "absent") return null;
  const mark = look.mark === "doubtful" ? " doubt" : "";
  return <Words x={slim ? layout.right : layout.right + 10} y={y + (slim ? -9 : 5)} class={`${slim ? "e halo " : ""}b ${role}${mark}`}>{inWords(look)}</Words>;
}

function Slip({ ns, speed, picture, layout, slim }: { ns: number; speed: number; picture: Picture; layout: StripLayout; slim: boolean }): JSX.Element | null {
  const look = shown({ key: "slip", symbol: "s", label: "slip", unit: "1", digits: 2 }, picture.readings["slip"], isStarting(picture.readings), true);
  if (look.mark === "absent") return null;
  const words = inWords(look);
  const mark = look.mark === "doubtful" ? " doubt" : "";
  if (slim) return <Words x={layout.right} y={layout.speedY(ns) - 6} class={`e b halo${mark}`}>{`slip ${words}`}</Words>;
  const x = layout.right + 12;
  const middle = Math.max((layout.speedY(ns) + layout.speedY(speed)) / 2, layout.speedY(ns) + 6);
  return (
    <>
      <DimensionUpright from={layout.speedY(ns)} to={layout.speedY(speed)} x={x} reachFrom={layout.right} />
      <Words x={x + 12} y={middle} class="b">slip</Words>
      <Words x={x + 12} y={middle + 17} class={`b${mark}`}>{words}</Words>
    </>
  );
}

function lastOf(strip: Strip): number | null {
  for (const values of [strip.rest.current_high, strip.wide.current]) {
    const value = values[values.length - 1];
    if (value !== undefined && !Number.isNaN(value)) return value;
  }
  return null;
}

/** The state's word stands in the ribbon where it fits. */
function Ribbon({ strip, layout }: Props): JSX.Element {
  return (
    <>
      {strip.states.map(({ state, from_s, to_s }) => {
        const [from, to] = [layout.x(from_s), layout.x(to_s)];
        const length = state.length * 7.2;
        if (to - from < length + 12) return state === "stalled" && to - from > 10 ? <Words key={from_s} x={(from + to) / 2} y={layout.ribbonY + RIBBON - 4.5} class="on-alarm b m">!</Words> : null;
        const textured = state === "starting" || state === "coasting";
        return (
          <g key={from_s}>
            {textured && <rect class="patch" x={from + 4} y={layout.ribbonY + 1.5} width={length + 2} height={RIBBON - 3} />}
            <Words x={from + 8} y={layout.ribbonY + RIBBON - 4.5} class={state === "stalled" ? "on-alarm b" : ""}>{state}</Words>
          </g>
        );
      })}
    </>
  );
}

function Axis({ strip, layout, slim }: Props): JSX.Element {
  const [unit, seconds] = timeUnit(strip.end_s);
  const wide = ticks(strip.wide_s, 3);
  const end = strip.end_s / seconds;
  const room = (layout.right - layout.split) / (slim ? 60 : 90);
  const rest = ticks(end, room).filter((at) => at * seconds > strip.wide_s * 1.2 && layout.x(at * seconds) < layout.right - 64 && layout.x(at * seconds) > layout.split + 26);
  return (
    <>
      {wide.map((t, k) => <Tick key={k} x={layout.x(t)} y={layout.axisY} text={k === wide.length - 1 ? withUnit(String(t), "s") : String(t)} at={k === 0 ? "n" : k === wide.length - 1 ? "n e" : "n m"} />)}
      {rest.map((at) => <Tick key={`r${at}`} x={layout.x(at * seconds)} y={layout.axisY} text={String(at)} at="n m" />)}
      {strip.end_s > strip.wide_s && <Tick x={layout.right} y={layout.axisY} text={withUnit(number(end, end < 10 ? 1 : 0), unit)} at="n e" />}
    </>
  );
}

function Tick({ x, y, text, at }: { x: number; y: number; text: string; at: string }): JSX.Element {
  return (
    <g>
      <line class="hair" x1={x} x2={x} y1={y - 4} y2={y} />
      <Words x={x} y={y + 15} class={at}>{text}</Words>
    </g>
  );
}

