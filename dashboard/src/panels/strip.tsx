/** Speed and current since the start: the first seconds wide, then to now; slip as a dimension, states as a ribbon. */
import type { JSX } from "preact";
import { useCallback, useMemo } from "preact/hooks";
import { duration, number, withUnit } from "../core/format";
import type { Picture, Strip } from "../core/picture";
import { numberOf } from "../core/shown";
import { RPM, speedWords } from "../core/units";
import type { Store } from "../core/store";
import { Drawing, type Pen, type Size, type TableData } from "../draw/drawing";
import type { Panel } from "./panel";
import { StripScales, stripHeight, stripLayout } from "./strip_layout";
import { stripLimits } from "./strip_limits";
import { paintStrip } from "./strip_paint";
import { StripWords } from "./strip_words";

function StripView({ store }: { store: Store }): JSX.Element {
  const scales = useMemo(() => new StripScales(), []);
  const layout = useCallback((strip: Strip, size: Size) => stripLayout(strip, scales.ends(strip, performance.now()), size), []);
  const paint = useCallback((pen: Pen, size: Size) => {
    const strip = store.strip.value;
    const picture = store.live.value;
    if (!strip || !picture) return;
    const place = layout(strip, size);
    paintStrip(pen, strip, place, stripLimits(picture, place).map(({ y }) => y));
  }, []);
  const strip = store.strip.value;
  const picture = store.calm.value;
  return (
    <Drawing
      title="Speed and current since the start"
      note={strip ? `first ${withUnit(String(strip.wide_s), "s")} drawn wide, then to now` : "no start seen yet"}
      sentence={strip && picture ? sentence(strip, picture) : "No start has been seen yet."}
      faint={store.faint.value}
      height={stripHeight}
      paint={paint}
      words={(size) => strip && picture && <StripWords strip={strip} picture={picture} layout={layout(strip, size)} slim={size.slim} />}
      table={() => table(strip, picture?.speed_unit ?? RPM)}
    />
  );
}

function sentence(strip: Strip, picture: Picture): string {
  const speed = numberOf(picture.readings, "speed_rpm");
  const states = strip.states.slice(-4).map(({ state, from_s, to_s }) => `${state} for ${duration(to_s - from_s)}`);
  const now = speed === null ? "" : ` Speed is now ${speedWords(speed, picture.speed_unit)}.`;
  const gaps = strip.gaps.length ? ` Samples are missing in ${strip.gaps.length} places.` : "";
  return `${duration(strip.end_s)} since the start: ${states.join(", then ")}.${now}${gaps}`;
}

function table(strip: Strip | null, unit: string): TableData {
  const at = (seconds: number): string => withUnit(number(seconds, 2), "s");
  const rows = (strip?.states ?? []).map(({ state, from_s, to_s }) => [state, at(from_s), at(to_s), "", ""]);
  const points = strip ? strip.wide.t.length : 0;
  const step = Math.max(1, Math.floor(points / 10));
  const values = strip
    ? Array.from({ length: Math.ceil(points / step) }, (_, k) => k * step).map((k) => [
        "",
        at(strip.wide.t[k]!),
        "",
        speedWords(strip.wide.speed[k]!, unit),
        withUnit(number(strip.wide.current[k]!, 2), "A"),
      ])
    : [];
  return { head: ["state", "from", "to", "speed", "current"], rows: [...rows, ...values] };
}

export const STRIP: Panel = { key: "strip", side: "drawings", fits: () => true, view: StripView };
