/** Names, limits, ends of lines, leaders, alarms in the ribbon and the time axis of a night. */
import type { JSX } from "preact";
import { limitWords } from "../core/limits";
import { type Hole, timeTicks } from "../core/night";
import { labelWords, waits } from "../core/night_alarms";
import { amountOf } from "../core/night_limits";
import { lastWords, rangeWords, roleOf, twinOf } from "../core/night_readings";
import { holeWords } from "../core/night_words";
import { Leader, Words } from "../draw/dimension";
import { LANE, type NightLayout, type StripPlace, placedAlong, spread } from "./night_layout";
import type { NightModel } from "./night_model";

const LINE = 17;
const LETTER = 6.7; // of 14 px, about
const NAME_LETTERS = 16; // a longer name takes two lines
const HOLES_TOLD = 4;
const BAR_LEAST = 2; // a short alarm must be seen in a month
const SIGN = 14;

interface Props {
  readonly model: NightModel;
  readonly layout: NightLayout;
  readonly holes: readonly Hole[];
}

export function NightWords({ model, layout, holes }: Props): JSX.Element {
  return (
    <>
      {layout.strips.map((strip) => (layout.slim ? <SlimNames key={strip.id} {...{ model, layout, strip }} /> : <Names key={strip.id} {...{ model, layout, strip }} />))}
      <HoleWords model={model} layout={layout} holes={holes} />
      <AlarmWords model={model} layout={layout} />
      <AlarmBars model={model} layout={layout} />
      <Axis layout={layout} />
    </>
  );
}

interface StripProps {
  readonly model: NightModel;
  readonly layout: NightLayout;
  readonly strip: StripPlace;
}

interface LimitLabel {
  readonly y: number;
  readonly text: string;
  readonly off: -1 | 0 | 1; // it lies above the strip, in it, or below it
}

function limitLabels({ scale, top, height, id, y }: StripPlace, model: NightModel): LimitLabel[] {
  const text = (limit: number): string => `${limitName(id, limit, model)} ${limitWords(limit, model.quantity(id)?.unit ?? "")}`;
  const near = scale.limits.map((limit) => ({ y: y(limit) + 5, text: text(limit), off: 0 as const }));
  const beyond = scale.beyond.map((limit) => (limit > scale.high ? { y: top + 16, text: text(limit), off: -1 as const } : { y: top + height - 6, text: text(limit), off: 1 as const }));
  return [...near, ...beyond];
}

/** Of an RMS that has no strip of its own it says so in that of the mean, and the other way round. */
function limitName(id: string, limit: number, model: NightModel): string {
  if (!model.limits.value.twins[id]?.includes(limit)) return "limit";
  return twinOf(id).includes("_rms_") ? "RMS limit" : "mean limit";
}

/** An arrow to where a limit lies that is not in the strip. */
function Arrow({ x, y, up }: { x: number; y: number; up: boolean }): JSX.Element {
  return <path class="dim" d={up ? "M0 4V-8M-4 -4L0 -8L4 -4" : "M0 -8V4M-4 0L0 4L4 0"} transform={`translate(${x} ${y})`} />;
}

/** Left of a line its name and limits; right of it now, and lowest to highest. */
function Names({ model, layout, strip }: StripProps): JSX.Element {
  const quantity = model.quantity(strip.id);
  const role = roleOf(strip.id);
  const limits = limitLabels(strip, model);
  const lines = twoLines(model.nameOf(strip.id));
  const middle = strip.last === null ? strip.top + strip.height / 2 + 5 : strip.y(strip.last.value) + 5;
  const ends = [strip.top + 14, strip.top + strip.height - 6] as const;
  const places = spread([...limits, { y: middle, text: lines[0]! }], LINE * (1 + 0.4 * (lines.length - 1)), ends);
  const at = places[places.length - 1]!;
  const room = strip.height > 3.5 * LINE; // of low strips the doubt stands in place of the range
  const below = [strip.last?.doubtful ? "doubtful" : "", strip.reached && (room || !strip.last?.doubtful) ? rangeWords(strip.reached, quantity) : ""].filter(Boolean);
  const nowY = Math.min(Math.max(middle, ends[0]), ends[1] - LINE * below.length);
  return (
    <>
      {limits.map(({ text, off }, k) => (
        <g key={text}>
          <Words x={layout.left - (off ? 24 : 10)} y={places[k]!} class="e">{text}</Words>
          {off !== 0 && <Arrow x={layout.left - 14} y={places[k]! - 3} up={off < 0} />}
        </g>
      ))}
      {lines.map((line, k) => <Words key={line} x={layout.left - 10} y={at + k * (LINE - 2)} class={`e b ${role}`}>{line}</Words>)}
      {strip.last !== null && strip.reached ? (
        <>
          <Words x={layout.right + 10} y={nowY} class={`b ${role}`}>{lastWords(strip.last, quantity)}</Words>
          {below.map((line, k) => <Words key={line} x={layout.right + 10} y={nowY + LINE * (k + 1)} class="n">{line}</Words>)}
        </>
      ) : !model.blank.value && <Words x={layout.left + 8} y={middle} class="n">no value here</Words>}
    </>
  );
}

/** Where it is measured stands on a line of its own, so that it is never cut off. */
function twoLines(name: string): string[] {
  const short = (line: string): string => (line.length > NAME_LETTERS ? `${line.slice(0, NAME_LETTERS - 1)}\u2026` : line);
  if (name.length <= NAME_LETTERS) return [name];
  const place = name.lastIndexOf(", ");
  const at = place > 0 ? place + 1 : name.lastIndexOf(" ", NAME_LETTERS);
  return at > 0 ? [short(name.slice(0, at)), short(name.slice(at + 1))] : [short(name)];
}

function SlimNames({ model, layout, strip }: StripProps): JSX.Element {
  const quantity = model.quantity(strip.id);
  const role = roleOf(strip.id);
  const y = strip.top + 15;
  return (
    <>
      <text class="halo" transform={`translate(${layout.left} ${y})`}>
        <tspan class={`b ${role}`}>{model.nameOf(strip.id)}</tspan>
        {strip.reached && <tspan class="n" dx="6">{rangeWords(strip.reached, quantity)}</tspan>}
      </text>
      {strip.last !== null ? <text class="e halo" transform={`translate(${layout.right} ${y})`}>{strip.last.doubtful && <tspan class="n">{"doubtful\u00a0\u00a0"}</tspan>}<tspan class={`b ${role}`}>{lastWords(strip.last, quantity)}</tspan></text> : <Words x={layout.right} y={y} class="e n halo">no value</Words>}
      {strip.scale.limits.map((limit) => <Words key={limit} x={layout.right} y={strip.y(limit) + (strip.y(limit) < strip.top + 36 ? 15 : -4)} class="e n halo">{limitName(strip.id, limit, model)} {limitWords(limit, quantity?.unit ?? "")}</Words>)}
    </>
  );
}

/** The longest holes are told in words; all are hatched. */
function HoleWords({ model, layout, holes }: Props): JSX.Element {
  const alarmed = model.lives.value.map(({ reading }) => reading);
  const quiet = [2, 1, 3, 0].map((k) => layout.strips[k]).find((each) => each && !alarmed.includes(each.id)); // there no other words are
  const strip = quiet ?? layout.strips[layout.strips.length - 1];
  const inside = holes.filter((hole) => hole.to_utc_s > layout.seen.from_utc_s && hole.from_utc_s < layout.seen.to_utc_s);
  const longest = [...inside].sort((one, other) => other.to_utc_s - other.from_utc_s - one.to_utc_s + one.from_utc_s).slice(0, HOLES_TOLD);
  const y = (strip?.top ?? layout.top) + (layout.slim ? 30 : 15);
  const words = (hole: Hole): string => holeWords(hole, layout.slim);
  const width = (hole: Hole): number => words(hole).length * LETTER;
  const isWide = (hole: Hole): boolean => Math.min(layout.x(hole.to_utc_s), layout.right) - Math.max(layout.x(hole.from_utc_s), layout.left) > width(hole) + 12;
  const middle = (hole: Hole): number => layout.x((Math.max(hole.from_utc_s, layout.seen.from_utc_s) + Math.min(hole.to_utc_s, layout.seen.to_utc_s)) / 2);
  return (
    <>
      {longest.filter(isWide).map((hole) => (
        <g key={hole.from_utc_s}>
          <rect class="patch" x={middle(hole) - width(hole) / 2 - 6} y={y - 15} width={width(hole) + 12} height={22} />
          <Words x={middle(hole)} y={y} class="m">{words(hole)}</Words>
        </g>
      ))}
      {placedAlong(longest.filter((hole) => !isWide(hole)), middle, width, [layout.left, layout.right], longest.filter(isWide).map((hole) => [middle(hole) - width(hole) / 2 - 10, middle(hole) + width(hole) / 2 + 10])).map(({ item, x, ends }) => (
        <Pointed key={item.from_utc_s} x={x} y={y - 5} toX={x + (ends ? -14 : 14)} toY={y - 5} ends={ends} text={words(item)} />
      ))}
    </>
  );
}

/** A leader and the words at its end, on a patch: no trace lies across them. */
function Pointed({ x, y, toX, toY, ends, text }: { x: number; y: number; toX: number; toY: number; ends: boolean; text: string }): JSX.Element {
  return (
    <g>
      {text && <rect class="patch" x={ends ? toX - 8 - text.length * LETTER : toX} y={toY - 8} width={text.length * LETTER + 8} height={17} />}
      <Leader x={x} y={y} toX={toX} toY={toY} />
      <Words x={toX + (ends ? -4 : 4)} y={toY + 5} class={ends ? "e halo" : "halo"}>{text}</Words>
    </g>
  );
}

/** What came of alarms stands in the strip of their reading. */
function AlarmWords({ model, layout }: { model: NightModel; layout: NightLayout }): JSX.Element {
  const inside = model.lives.value.filter(({ raised_utc_s }) => raised_utc_s >= layout.seen.from_utc_s && raised_utc_s <= layout.seen.to_utc_s);
  return (
    <>
      {layout.strips.map((strip) => {
        const twin = layout.strips.some(({ id }) => id === twinOf(strip.id)) ? strip.id : twinOf(strip.id);
        const own = inside.filter(({ reading }) => reading === strip.id || reading === twin);
        return placedAlong(own, (life) => layout.x(life.raised_utc_s), (life) => labelWords(life).length * LETTER, [layout.left, layout.right]).map(({ item, x, ends }) => {
          const limit = amountOf(item.limit, model.quantity(strip.id)?.unit ?? "");
          const at = limit !== null && strip.scale.limits.includes(limit) ? limit : strip.scale.limits[0];
          const y = at === undefined ? strip.top + 18 : strip.y(at);
          const toY = y - 13 < strip.top + 8 ? y + 14 : y - 13;
          return <Pointed key={item.id} x={x} y={y} toX={x + (ends ? -15 : 15)} toY={toY} ends={ends} text={layout.slim ? item.value : labelWords(item)} />;
        });
      })}
    </>
  );
}

/** In a lane above the ribbon, so that the states stay to be seen: a bar for as long as it was so, alarms over cautions, and its sign where there is room. */
function AlarmBars({ model, layout }: { model: NightModel; layout: NightLayout }): JSX.Element {
  const { seen, laneY } = layout;
  const now = model.store.calm.value?.now_utc_s ?? seen.to_utc_s;
  const inside = model.lives.value.filter((life) => life.raised_utc_s <= seen.to_utc_s && (life.ended_utc_s ?? now) >= seen.from_utc_s);
  const inTurn = [...inside].reverse().sort((one, other) => Number(one.rank === "alarm") - Number(other.rank === "alarm"));
  const bars = inTurn.flatMap((life) => life.stood.filter(({ raised_utc_s, ended_utc_s }) => raised_utc_s <= seen.to_utc_s && (ended_utc_s ?? now) >= seen.from_utc_s).map(({ raised_utc_s, ended_utc_s }) => {
    const x = layout.x(Math.max(raised_utc_s, seen.from_utc_s));
    return { life, key: `${life.id} ${raised_utc_s}`, x, width: Math.max(layout.x(Math.min(ended_utc_s ?? now, seen.to_utc_s)) - x, BAR_LEAST), over: !waits(life) && ended_utc_s !== null };
  }));
  const signed = placedAlong([...bars].reverse(), ({ x }) => x, () => SIGN - 22, [layout.left - 6, layout.right + 6]);
  return (
    <>
      {bars.map(({ key, life, x, width, over }) => <rect key={key} class={`bar ${life.rank}${over ? " over" : ""}`} x={x} y={laneY + 3} width={width} height={LANE - 6} />)}
      {[...signed].reverse().map(({ item: { key, life, x, over } }) => (
        <g key={key} class={`block ${life.rank}${over ? " over" : ""}`} transform={`translate(${x - SIGN / 2} ${laneY})`}>
          <rect width={SIGN} height={LANE} />
          {life.rank === "alarm" ? <path class="sign" d={`M${SIGN / 2} 2.5v5.5M${SIGN / 2} 10v2`} /> : <path class="sign full" d={`M${SIGN / 2} 2l5 9.5h-10Z`} />}
        </g>
      ))}
    </>
  );
}

function Axis({ layout }: { layout: NightLayout }): JSX.Element {
  const span_s = layout.seen.to_utc_s - layout.seen.from_utc_s;
  const room = span_s > 3 * 86_400 ? 72 : layout.slim ? 66 : 76;
  return (
    <>
      {timeTicks(layout.seen, (layout.right - layout.left) / room).map(({ utc_s, words }) => {
        const x = layout.x(utc_s);
        const at = !layout.slim ? "n m" : x < layout.left + 22 ? "n" : x > layout.right - 22 ? "n e" : "n m";
        return (
          <g key={utc_s}>
            <line class="hair" x1={x} x2={x} y1={layout.axisY - 4} y2={layout.axisY} />
            <Words x={x} y={layout.axisY + 15} class={at}>{words}</Words>
          </g>
        );
      })}
    </>
  );
}
