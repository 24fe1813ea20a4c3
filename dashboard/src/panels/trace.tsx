/**
 * Voltage and current over the last cycles, the phase as a dimension between their zero crossings,
 * u × i below on the same time axis. Lines and dimension follow each picture; words and peaks change
 * with the far line, so that they can be read.
 */
import { useComputed } from "@preact/signals";
import type { JSX } from "preact";
import { useCallback, useMemo } from "preact/hooks";
import { clock, number, plain, rough, withUnit } from "../core/format";
import { tooSmall } from "../core/peaks";
import { mainPhase } from "../core/phases";
import type { Line, Picture } from "../core/picture";
import type { Store } from "../core/store";
import { phase, phaseWords, traceWords } from "../core/words";
import { Drawing, type Pen, type Size, type TableData } from "../draw/drawing";
import { stepped } from "../draw/stepped";
import { measure } from "./measure";
import type { Panel } from "./panel";
import { Scales, heightOf, shapeOf } from "./trace_layout";
import { paintTrace } from "./trace_paint";
import { TracePoints, pressAt } from "./trace_points";
import { TraceTools } from "./trace_tools";
import { TraceWords } from "./trace_words";

function TraceView({ store }: { store: Store }): JSX.Element {
  const scales = useMemo(() => new Scales(), []);
  const calm = useComputed(() => store.held.value?.picture ?? store.calm.value);
  const ends = useComputed(() => {
    const trace = store.shown.value?.trace;
    return trace ? scales.take(trace, performance.now()) : null;
  });
  const shape = useComputed(() => JSON.stringify(shapeOf(store.shown.value?.trace ?? null, stepped.value)));
  const height = useCallback((width: number) => heightOf(JSON.parse(shape.value), width < 560), [shape.value]);
  const paint = useCallback((pen: Pen, size: Size) => {
    const trace = store.shown.value?.trace;
    if (trace && ends.value) paintTrace(pen, size, trace, ends.value);
  }, []);
  const picture = calm.value;
  return (
    <Drawing
      title="Voltage and current"
      note={note(store, picture)}
      sentence={picture ? sentence(picture) : "No samples yet."}
      faint={store.faint.value}
      held={store.held.value ? "held, Space releases" : ""}
      height={height}
      paint={paint}
      words={(size) => (
        <>
          <TraceWords store={store} calm={calm.value} ends={ends} size={size} />
          {ends.value && measure.trace && <TracePoints size={size} ends={ends.value} />}
        </>
      )}
      onPress={(x, y, size) => {
        if (!store.held.value && store.live.value?.playing) store.toggleHold(performance.now()); // points need a picture that stays
        else if (ends.value) pressAt(x, y, size, ends.value);
      }}
      below={<TraceTools store={store} />}
      table={() => table(calm.value)}
    />
  );
}

function note(store: Store, picture: Picture | null): string {
  if (!picture?.trace) return "no samples yet";
  const kept = measure.source.value?.text;
  if (kept) return `${kept}: kept from ${clock(picture.trace.start_utc_s, true)} on; readings and recording go on`;
  return store.held.value ? `taken at ${clock(picture.trace.start_utc_s, true)}; readings and recording go on` : traceWords(picture.trace);
}

function sentence(picture: Picture): string {
  const { trace } = picture;
  if (!trace) return "No samples yet.";
  const peaks = trace.lines.map((line) => {
    const [low, high] = ends(line);
    return `${withPlace(line.name, line.place)} ${low === high ? low : `from ${low} to ${high}`}`;
  });
  const found = phase(picture);
  const shift = found && trace.zero_current_s !== null ? ` The ${phaseWords(found, false)}.` : "";
  const of = mainPhase(picture) && ` of ${mainPhase(picture)}`;
  const power = trace.power?.mean == null ? "" : ` Mean power${of} ${rough(trace.power.mean, "W")}.`;
  const clipped = trace.lines.filter((line) => line.clipped).map((line) => ` ${line.name} is clipped.`);
  const gap = trace.gaps.length ? " Samples are missing in it." : "";
  return `${traceWords(trace)}: ${peaks.join("; ")}.${shift}${power}${clipped.join("")}${gap}`.replace(/\s+/g, " ");
}

function ends(line: Line): string[] {
  return line.peak.map((value) => tooSmall(line) || withUnit(number(value, 2), line.unit));
}

/** A board may have said the place in the name. */
function withPlace(name: string, place: string): string {
  return name.toLowerCase().includes(plain(place).toLowerCase()) ? name : `${name} ${plain(place)}`.trim();
}

function table(picture: Picture | null): TableData {
  const rows = (picture?.trace?.lines ?? []).map((line) => [
    withPlace(line.name, line.place),
    ...ends(line),
    line.clipped ? "clipped" : "no",
  ]);
  const power = picture?.trace?.power;
  const back = power?.back_percent == null ? "" : withUnit(number(power.back_percent, 1), "%");
  const extra = power?.mean == null ? [] : [[`u × i${picture && mainPhase(picture) ? ` of ${mainPhase(picture)}` : ""}, mean; part that flows back`, rough(power.mean, "W"), back, ""]];
  return { head: ["line", "lowest", "highest", "clipped"], rows: [...rows, ...extra] };
}

export const TRACE: Panel = { key: "trace", side: "drawings", fits: () => true, view: TraceView };
