/** The cross line over a night: reads all strips at once, marks a stretch to look at nearer. By pointer, finger or keys. */
import type { JSX } from "preact";
import { useRef } from "preact/hooks";
import { clock, day } from "../core/format";
import { type Band, type Hole, type Spell, type Trends, columnAt } from "../core/night";
import { extent, rangeWords, roleOf, valueWords } from "../core/night_readings";
import { holeWords } from "../core/night_words";
import { Words } from "../draw/dimension";
import type { NightLayout, StripPlace } from "./night_layout";
import type { NightModel } from "./night_model";

const DRAG_PX = 6; // less is a press that trembled
const LETTER = 7; // of 14 px, about
const PAGE = 0.5; // of what is seen

interface Props {
  readonly model: NightModel;
  readonly layout: NightLayout;
  readonly height: number;
  readonly holes: readonly Hole[];
  readonly spells: readonly Spell[];
}

export function NightCross({ model, layout, height, holes, spells }: Props): JSX.Element {
  const from = useRef<number | null>(null); // x where a drag began
  const box = useRef<HTMLDivElement>(null);
  const { seen } = layout;
  const at = model.cursor.value;
  const utcOf = (event: PointerEvent): number => {
    const { left, width } = box.current!.getBoundingClientRect();
    const x = ((event.clientX - left) / width) * layout.width;
    return Math.min(Math.max(layout.utc(x), seen.from_utc_s), seen.to_utc_s);
  };
  const move = (event: PointerEvent): void => {
    const utc_s = utcOf(event);
    model.cursor.value = utc_s;
    if (from.current === null) return;
    const begun = layout.x(from.current);
    if (Math.abs(layout.x(utc_s) - begun) > DRAG_PX) model.marked.value = ordered(from.current, utc_s);
  };
  const down = (event: PointerEvent): void => {
    if (event.button !== 0) return;
    from.current = utcOf(event);
    model.cursor.value = from.current;
    model.marked.value = null;
    box.current!.setPointerCapture(event.pointerId);
  };
  const up = (): void => {
    from.current = null;
    if (model.marked.value) model.goTo(model.marked.value);
  };
  const leave = (): void => { if (from.current === null && document.activeElement !== box.current) model.cursor.value = null; };
  const cancel = (): void => { from.current = null; model.marked.value = null; };
  const key = (event: KeyboardEvent): void => {
    if (!act(model, layout, event)) return;
    event.preventDefault();
    event.stopPropagation();
  };
  const said = at === null ? "Arrow keys move the cross line" : crossWords(model, at, holes, spells);
  const marked = model.marked.value;
  return (
    <div
      ref={box} class="cross" role="slider" tabIndex={0} aria-label="Cross line through all readings" aria-valuemin={0} aria-valuemax={Math.round(seen.to_utc_s - seen.from_utc_s)}
      aria-valuenow={at === null ? 0 : Math.round(at - seen.from_utc_s)} aria-valuetext={said}
      onPointerMove={move} onPointerDown={down} onPointerUp={up} onPointerLeave={leave} onPointerCancel={cancel} onDblClick={() => model.goTo(null)} onKeyDown={key}
      onFocus={() => { if (model.cursor.peek() === null && box.current!.matches(":focus-visible")) model.cursor.value = (seen.from_utc_s + seen.to_utc_s) / 2; }}
    >
      <svg class="plot" viewBox={`0 0 ${layout.width} ${height}`} aria-hidden="true">
        {marked && <rect class="marked" x={layout.x(marked.from_utc_s)} width={layout.x(marked.to_utc_s) - layout.x(marked.from_utc_s)} y={0} height={layout.ribbonY + 20} />}
        {at !== null && at >= seen.from_utc_s && at <= seen.to_utc_s && <Line model={model} layout={layout} at={at} />}
      </svg>
    </div>
  );
}

function ordered(one: number, other: number): { from_utc_s: number; to_utc_s: number } {
  return { from_utc_s: Math.min(one, other), to_utc_s: Math.max(one, other) };
}

/** Whether a key did something: arrows move the line, with Shift they mark, Enter looks nearer, Escape goes back. */
function act(model: NightModel, { seen }: NightLayout, event: KeyboardEvent): boolean {
  const at = model.cursor.peek() ?? (seen.from_utc_s + seen.to_utc_s) / 2;
  const trends = model.trends.peek();
  const step = trends ? (trends.to_utc_s - trends.from_utc_s) / trends.columns : (seen.to_utc_s - seen.from_utc_s) / 100;
  const wide = event.shiftKey ? 10 : 1; // of a stretch both ends are soon apart
  const to = { ArrowLeft: at - wide * step, ArrowRight: at + wide * step, Home: seen.from_utc_s, End: seen.to_utc_s }[event.key];
  if (to !== undefined) {
    const utc_s = Math.min(Math.max(to, seen.from_utc_s), seen.to_utc_s);
    if (event.shiftKey) {
      const marked = model.marked.peek();
      const fixed = !marked ? at : Math.abs(marked.from_utc_s - at) < Math.abs(marked.to_utc_s - at) ? marked.to_utc_s : marked.from_utc_s;
      model.marked.value = ordered(fixed, utc_s);
    } else model.marked.value = null;
    model.cursor.value = utc_s;
    return true;
  }
  if (event.key === "PageUp" || event.key === "PageDown") model.pan(event.key === "PageUp" ? -PAGE : PAGE);
  else if (event.key === "+" || event.key === "-") model.zoom(event.key === "+");
  else if (event.key === "Enter" && model.marked.peek()) model.goTo(model.marked.peek());
  else if (event.key === "Escape" && model.marked.peek()) model.marked.value = null;
  else if (event.key === "Escape" && model.near.peek()) model.goTo(null);
  else return false;
  return true;
}

function Line({ model, layout, at }: { model: NightModel; layout: NightLayout; at: number }): JSX.Element {
  const x = layout.x(at);
  const trends = model.trends.value;
  const k = trends ? columnAt(trends, at) : -1;
  const ends = x > (layout.left + layout.right) / 2;
  return (
    <>
      <line class="hair ink" x1={x} x2={x} y1={0} y2={layout.ribbonY + 20} />
      <Words x={x + (ends ? -6 : 6)} y={layout.axisY - 10} class={`b halo${ends ? " e" : ""}`}>{momentWords(at, layout)}</Words>
      {layout.strips.map((strip) => {
        const band = trends?.readings[strip.id];
        const mean = band && k >= 0 ? band.mean[k]! : NaN;
        if (Number.isNaN(mean)) return null;
        const quantity = model.quantity(strip.id);
        const range = band!.high[k]! - band!.low[k]! > 0 ? `, ${rangeWords([band!.low[k]!, band!.high[k]!], quantity)}` : "";
        const value = valueWords(mean, quantity);
        const { y, ends: left } = besideBand(strip, band!, trends!, layout, x, (value.length + range.length) * LETTER + 12);
        return (
          <g key={strip.id}>
            <circle class="ink" cx={x} cy={strip.y(mean)} r={3} />
            <text class={left ? "e halo" : "halo"} transform={`translate(${x + (left ? -8 : 8)} ${y})`}><tspan class={`b ${roleOf(strip.id)}`}>{value}</tspan><tspan class="n">{range}</tspan></text>
          </g>
        );
      })}
    </>
  );
}

/** Where words stand beside a band and not on it: above or below it, on the side of the cross line where there is room; else on it. */
function besideBand(strip: StripPlace, band: Band, trends: Trends, layout: NightLayout, x: number, width: number): { readonly y: number; readonly ends: boolean } {
  const { top, height, y } = strip;
  const step_s = (trends.to_utc_s - trends.from_utc_s) / trends.columns;
  const place = (at: number): number => Math.min(Math.max(Math.floor((layout.utc(at) - trends.from_utc_s) / step_s), 0), trends.columns - 1);
  const usual = x > (layout.left + layout.right) / 2;
  for (const ends of [usual, !usual]) {
    const [from, to] = ends ? [x - width, x] : [x, x + width];
    if (from < layout.left || to > layout.right) continue;
    const [first, last] = [place(from), place(to) + 1];
    const reached = extent({ low: band.low.subarray(first, last), high: band.high.subarray(first, last) });
    if (!reached) continue;
    const [above, below] = [y(reached[1]) - 7, y(reached[0]) + 17];
    if (above >= top + 13) return { y: above, ends };
    if (below <= top + height - 4) return { y: below, ends };
  }
  const mean = band.mean[place(x)]!;
  return { y: Math.min(Math.max(y(mean) - 8, top + 14), top + height - 6), ends: usual };
}

function momentWords(at: number, { seen }: Pick<NightLayout, "seen">): string {
  const length_s = seen.to_utc_s - seen.from_utc_s;
  const time = clock(at).slice(0, length_s > 6 * 3600 ? 5 : 8);
  return length_s > 20 * 3600 ? `${day(at)} ${time}` : time;
}

/** "26 Nov 02:18:04: current 3.98 A, 3.61 to 5.80; speed 3 571 r/min, ...; running." */
export function crossWords(model: NightModel, at: number, holes: readonly Hole[], spells: readonly Spell[]): string {
  const when = `${day(at)} ${clock(at)}`;
  const hole = holes.find((each) => at >= each.from_utc_s && at < each.to_utc_s);
  if (hole) return `${when}: ${holeWords(hole)}.`;
  const trends = model.trends.value;
  const k = trends ? columnAt(trends, at) : -1;
  const read = model.ids.value.map((id) => {
    const band = trends?.readings[id];
    const quantity = model.quantity(id);
    if (!band || k < 0 || Number.isNaN(band.mean[k]!)) return `${model.nameOf(id)} no value`;
    return `${model.nameOf(id)} ${valueWords(band.mean[k]!, quantity)}, ${rangeWords([band.low[k]!, band.high[k]!], quantity)}`;
  });
  const state = spells.find((spell) => at >= spell.from_utc_s && at < spell.to_utc_s)?.state;
  return `${when}: ${[...read, state ?? ""].filter(Boolean).join("; ")}.`;
}
