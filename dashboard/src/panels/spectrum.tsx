/** The spectrum of the current with names on the lines that this motor's type, plate, supply and speed predict. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useMemo, useRef } from "preact/hooks";
import { number, rough, withUnit } from "../core/format";
import type { Picture } from "../core/picture";
import { placeWords } from "../core/rows";
import { type Placed, type Spectrum, decades, decibels, heightOn, placeMarks } from "../core/spectrum";
import { SteadyScale } from "../core/steady";
import type { Store } from "../core/store";
import { ticks } from "../core/ticks";
import { Leader, Words } from "../draw/dimension";
import { Drawing, type Size, type TableData } from "../draw/drawing";
import { spectrum } from "../feed/api";
import { useAsked, useSeen } from "./asked";
import type { Panel } from "./panel";

const RANGES = [150, 1000, 8000]; // Hz
const [LEFT, ROW, PLOT, FOOT] = [58, 18, 190, 22];
const COLUMNS = 900;

function SpectrumView({ store }: { store: Store }): JSX.Element {
  const range = useSignal(RANGES[1]!);
  const box = useRef<HTMLDivElement>(null);
  const rig = store.calm.value?.rig ?? "";
  const on = useSeen(box) && store.linked.value && store.held.value === null;
  const found = useAsked(() => spectrum(rig, range.value, COLUMNS), on, `${rig} ${range.value}`);
  const scale = useMemo(() => new SteadyScale((peak) => 10 ** Math.ceil(Math.log10(peak) - 1e-9)), [rig, range.value]);
  const usable = found && !found.reason ? found : null;
  const top = scale.take(Math.max(0, ...(usable?.rms ?? [])), performance.now());
  return (
    <div ref={box}>
      <Drawing
        title={`Spectrum of the ${found?.role || "current"}`}
        note={usable ? `${whichWords(usable)}RMS of each line; nearer than ${withUnit(number(usable.resolution_hz, usable.resolution_hz < 10 ? 1 : 0), "Hz")} they run into one` : found?.reason ? `absent: ${found.reason}` : "none yet"}
        sentence={usable ? sentence(usable) : "No spectrum."}
        faint={store.faint.value}
        height={height}
        table={() => table(usable)}
        words={(size) => usable && <Lines found={usable} top={top} size={size} />}
        below={
          <p class="choices" role="group" aria-label="Range of the spectrum">
            {RANGES.map((hz) => <button key={hz} class="as-table" aria-pressed={range.value === hz} onClick={() => (range.value = hz)}>{`to ${hz < 1000 ? withUnit(String(hz), "Hz") : withUnit(String(hz / 1000), "kHz")}`}</button>)}
          </p>
        }
      />
    </div>
  );
}

function rowsOf(width: number): number {
  return width < 560 ? 5 : 4;
}

function height(width: number): number {
  return rowsOf(width) * ROW + 8 + PLOT + FOOT;
}

function Lines({ found, top, size }: { found: Spectrum; top: number; size: Size }): JSX.Element {
  const levels = decades(top);
  const [head, right] = [rowsOf(size.width) * ROW + 8, size.width - 12];
  const x = (hz: number): number => LEFT + (hz / found.to_hz) * (right - LEFT);
  const y = (rms: number): number => head + PLOT * (1 - heightOn(levels, rms));
  const step = found.to_hz / Math.max(1, found.rms.length - 1);
  const path = found.rms.map((rms, k) => `${k ? "L" : "M"}${x(k * step).toFixed(1)} ${y(rms).toFixed(1)}`).join("");
  return (
    <>
      <path class={`curve of-${found.role}`} d={path} />
      <line class="hair" x1={LEFT} x2={right} y1={head + PLOT} y2={head + PLOT} />
      {levels.slice(1).map((power) => (
        <g key={power}>
          <line class="hair" x1={LEFT - 6} x2={LEFT} y1={y(10 ** power)} y2={y(10 ** power)} />
          <Words x={LEFT - 10} y={y(10 ** power) + 5} class="e n">{decadeWords(power, found.unit)}</Words>
        </g>
      ))}
      {ticks(found.to_hz, size.slim ? 4 : 8).map((hz, k, all) => <Words key={hz} x={x(hz)} y={head + PLOT + 18} class={`n ${k === all.length - 1 ? "e" : "m"}`}>{k === all.length - 1 ? withUnit(number(hz), "Hz") : number(hz)}</Words>)}
      {placeMarks(found.marks, x, LEFT, right, rowsOf(size.width)).map((placed) => <Named key={placed.mark.sign} placed={placed} y={y(placed.mark.rms)} />)}
    </>
  );
}

function Named({ placed: { mark, x, row, at }, y }: { placed: Placed; y: number }): JSX.Element {
  const words = row === null ? null : row * ROW + 14;
  return (
    <g>
      {words === null ? <circle class={mark.stands_out ? "ink" : "hollow"} cx={x} cy={y} r={3} /> : mark.stands_out ? <Leader x={x} y={y} toX={x} toY={words + 4} /> : <line class="ghost" x1={x} x2={x} y1={y} y2={words + 4} />}
      {words !== null && <Words x={at} y={words} class={mark.stands_out ? "b halo" : "n halo"}>{mark.sign}</Words>}
    </g>
  );
}

/** 1 A, 0.1 A, 10 mA: powers of ten in words. */
function decadeWords(power: number, unit: string): string {
  if (power >= -1) return withUnit(number(10 ** power, power < 0 ? -power : 0), unit);
  return power >= -3 ? withUnit(number(10 ** (power + 3)), `m${unit}`) : withUnit(number(10 ** (power + 6)), `µ${unit}`);
}

function whichWords({ place }: Spectrum): string {
  return place ? `${placeWords(place)}, ` : "";
}

function sentence(found: Spectrum): string {
  const named = found.marks.filter((mark) => mark.stands_out).map((mark) => `${mark.name} at ${number(mark.hz, 1)} Hz, ${rough(mark.rms, found.unit)}`);
  return `Lines to ${number(found.to_hz)} Hz. ${named.length ? `Standing out where expected: ${named.join("; ")}.` : "None stands out where one is expected."}`;
}

function table(found: Spectrum | null): TableData {
  const rows = (found?.marks ?? []).map((mark) => {
    const level = decibels(mark.rms, found!.fundamental_rms);
    const [small, unit] = mark.rms < 0.0995 ? [mark.rms * 1000, `m${found!.unit}`] : [mark.rms, found!.unit];
    return [mark.sign, mark.name, withUnit(number(mark.hz, 1), "Hz"), withUnit(number(small, 3), unit), level === null ? "–" : withUnit(number(level, 1), "dB"), mark.stands_out ? "stands out" : "not seen"];
  });
  return { head: ["line", "what it is", "expected at", "RMS there", "of the fundamental", ""], rows };
}

const fits = (picture: Picture): boolean => Boolean(picture.trace?.lines.some((line) => line.role === "current" || line.role === "voltage"));

export const SPECTRUM: Panel = { key: "spectrum", side: "drawings", fits, view: SpectrumView };
