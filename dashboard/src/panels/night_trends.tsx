/** The night: readings under each other on one time axis, mean line and lowest-to-highest band, holes through all of them. */
import type { JSX } from "preact";
import { useCallback, useEffect } from "preact/hooks";
import { clock } from "../core/format";
import { type Hole, type Spell, type Trends, isElsewhere, isNearest, timeTicks } from "../core/night";
import { lastWords, rangeWords } from "../core/night_readings";
import { columnWords, holeWords, windowWords } from "../core/night_words";
import { Drawing, type Pen, type Size, type TableData } from "../draw/drawing";
import { NightCross } from "./night_cross";
import { columnsOf, nightHeight, nightLayout } from "./night_layout";
import type { NightModel } from "./night_model";
import { paintNight } from "./night_paint";
import { NightWords } from "./night_words";

interface Props {
  readonly model: NightModel;
  readonly onPlay: (utc_s: number) => void;
}

const SLIM_PX = 560;

export function NightTrends({ model, onPlay }: Props): JSX.Element {
  const [holes, spells, trends] = [model.holes.value, model.spells.value, model.trends.value];
  const layout = useCallback((size: Size) => nightLayout(size, model.seen.value!, model.ids.value, model.trends.value, model.limits.value), []);
  const height = useCallback((width: number) => nightHeight(model.ids.value.length, width < SLIM_PX), []);
  const paint = useCallback((pen: Pen, size: Size) => { // reads signals alone: painted once for all that comes at once
    const [told, seen] = [model.trends.value, model.seen.value];
    if (!told || !seen) return;
    const midnights = timeTicks(seen, 40).filter(({ day }) => day).map(({ utc_s }) => utc_s);
    paintNight(pen, layout(size), told, model.holes.value, model.spells.value, midnights);
  }, []);
  const seen = model.seen.value;
  const step_s = trends ? (trends.to_utc_s - trends.from_utc_s) / trends.columns : 0;
  return (
    <div class="nightplot" data-drawn={trends ? Object.keys(trends.readings).length : 0}>
      <Drawing
        title="The night"
        note={trends ? `line: mean of ${columnWords(step_s)}; band: lowest to highest half cycle or 10 ms; chain line: limit` : ""}
        sentence={sentence(model, holes)}
        faint={model.asked_ms.value !== null && trends !== null && (!seen || isElsewhere(trends, seen))}
        height={height}
        paint={paint}
        words={(size) => <><Fits size={size} model={model} />{seen && <NightWords model={model} layout={layout(size)} holes={holes} />}</>}
        over={(size) => seen && <NightCross model={model} layout={layout(size)} height={size.height} holes={holes} spells={spells} />}
        table={() => table(model, holes, spells)}
        below={<Tools model={model} onPlay={onPlay} />}
      />
    </div>
  );
}

/** As many columns as there is room for are asked for. */
function Fits({ size, model }: { size: Size; model: NightModel }): null {
  const columns = columnsOf(size);
  useEffect(() => model.setColumns(columns), [columns]);
  return null;
}

function Tools({ model, onPlay }: Props): JSX.Element {
  const at = model.cursor.value;
  const near = model.near.value;
  const [seen, now] = [model.seen.value, model.store.calm.value?.now_utc_s ?? 0];
  const inRun = at !== null && model.trends.value?.runs.some((run) => run.from_utc_s !== null && at >= run.from_utc_s && at <= (run.to_utc_s ?? 0));
  const play = (): void => { if (at !== null) onPlay(at); };
  return (
    <div class="row nighttools">
      <button class="btn" disabled={seen !== null && isNearest(seen)} onClick={() => model.zoom(true)}>Nearer</button>
      <button class="btn" disabled={!near} onClick={() => model.zoom(false)}>Farther</button>
      <button class="btn" disabled={!near} onClick={() => model.goTo(null)}>All of it</button>
      <button class="btn" disabled={!inRun} onClick={play}>{at === null ? "Play from the cross line" : `Play from ${clock(at)}`}</button>
      <span class="second" role="status">{near && seen ? windowWords(seen, now) + (model.blank.value ? ": nothing was recorded" : "") : "Drag over a stretch to see it nearer; a press sets the cross line."}</span>
    </div>
  );
}

function sentence(model: NightModel, holes: readonly Hole[]): string {
  const [trends, seen] = [model.trends.value, model.seen.value];
  if (!trends || !seen) return "Nothing is drawn yet.";
  const rows = summary(model, trends).map(([name, last, range]) => `${name} ${range}, at the end ${last}`);
  const gaps = !model.night.value ? "" : holes.length ? ` ${holes.length === 1 ? "One gap" : `${holes.length} gaps`}: ${holes.slice(0, 3).map((hole) => `${clock(hole.from_utc_s).slice(0, 5)}, ${holeWords(hole)}`).join("; ")}.` : " No gaps.";
  const alarms = model.lives.value.length ? ` ${model.lives.value.length} alarms or cautions.` : "";
  return `${windowWords(seen, seen.to_utc_s)}: ${model.blank.value ? "nothing was recorded" : rows.join("; ") || "no readings"}.${gaps}${alarms}`;
}

function summary(model: NightModel, trends: Trends): (readonly [string, string, string])[] {
  return model.ids.value.map((id) => {
    const quantity = model.quantity(id);
    const strip = nightLayout({ width: 1000, height: 500, slim: false }, model.seen.value!, [id], trends, { own: {}, twins: {} }).strips[0]!;
    return [model.nameOf(id), strip.last === null ? "no value" : `${lastWords(strip.last, quantity)}${strip.last.doubtful ? ", doubtful" : ""}`, strip.reached ? `${rangeWords(strip.reached, quantity)} ${quantity?.unit ?? ""}` : "no value"] as const;
  });
}

function table(model: NightModel, holes: readonly Hole[], spells: readonly Spell[]): TableData {
  const trends = model.trends.value;
  if (!trends) return { head: ["reading"], rows: [] };
  const rows = summary(model, trends).map(([name, last, range]) => [name, last, range]);
  const told = [...holes.map((hole) => [`${clock(hole.from_utc_s)} to ${clock(hole.to_utc_s)}`, "nothing recorded", holeWords(hole)]), ...spells.slice(-20).map(({ state, from_utc_s, to_utc_s }) => [`${clock(from_utc_s)} to ${clock(to_utc_s)}`, state, ""])];
  return { head: ["reading", "at the end", "lowest to highest"], rows: [...rows, ...told] };
}
