/**
 * Harmonics of the current as dots on a scale: the orders that matter; all of them, of each current and voltage, as a
 * table. The limits of class A stand beside them for information only.
 */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useMemo, useRef } from "preact/hooks";
import { number, withUnit } from "../core/format";
import { HEAD, type Harmonics, type Side, harmonicRows, placesOf, reasonsOf } from "../core/harmonics";
import type { Picture } from "../core/picture";
import { placeWords } from "../core/rows";
import { find, keyOf, numberOf, placeOf } from "../core/shown";
import type { Store } from "../core/store";
import { SteadyScale } from "../core/steady";
import { roundStep, ticks } from "../core/ticks";
import { Words } from "../draw/dimension";
import { Drawing, type TableData } from "../draw/drawing";
import { harmonics } from "../feed/api";
import { useAsked, useSeen } from "./asked";
import type { Panel } from "./panel";

const ORDERS = [2, 3, 5, 7, 9, 11]; // even: one side differs; odd: saturation, rectifiers, supply
const ROW = 24;

function HarmonicsView({ store }: { store: Store }): JSX.Element {
  const scale = useMemo(() => new SteadyScale((peak) => Math.min(100, Math.max(5, roundStep(peak)))), []);
  const picture = store.calm.value;
  const found = picture ? amplitudes(picture) : null;
  const box = useRef<HTMLDivElement>(null);
  const [open, which] = [useSignal(false), useSignal<Which>({ side: "current", place: null })];
  const rig = picture?.rig ?? "";
  const on = useSeen(box) && store.linked.value && store.held.value === null;
  const limits = useSignal<readonly (number | null)[]>([]);
  const asked = (): Promise<Harmonics> => harmonics(rig).then((each) => {
    limits.value = each.limits_a;
    return each;
  });
  const all = useAsked(asked, on && (open.value || !limits.value.length), rig);
  const chosen = all && chosenOf(all, which.value);
  const reason = (picture && find(picture.readings, "current_harmonics_a")?.reason) || "";
  const parts = ORDERS.map((order) => share(found, order));
  const end = scale.take(Math.max(0, ...parts.map((part) => part ?? 0)), performance.now());
  return (
    <div ref={box}>
      <Drawing
        title="Harmonics of the current"
        note={found ? `${whichWords(picture)}by order, in % of the fundamental` : reason ? `absent: ${reason}` : "none yet"}
        sentence={found ? ORDERS.map((order, k) => `order ${order}: ${percent(parts[k] ?? null)}`).join(", ") : "No harmonics."}
        faint={store.faint.value}
        height={height}
        table={() => table(all, chosen, picture && frequency(picture))}
        onTable={(opened) => (open.value = opened)}
        below={
          <>
            {found && limits.value.length > 0 && <p class="choices second">{limitWords(found, limits.value, end)}</p>}
            {open.value && all && <Choices all={all} chosen={chosen} onChosen={(next) => (which.value = next)} />}
          </>
        }
        words={({ width }) => {
          const [left, right] = [30, width - 84];
          const x = (value: number): number => left + (Math.min(value, end) / end) * (right - left);
          return (
            <>
              {ORDERS.map((order, k) => {
                const [part, y] = [parts[k] ?? null, 14 + k * ROW];
                const amps = found?.[order - 1];
                const limit = limitPercent(found, limits.value, order);
                return (
                  <g key={order}>
                    <Words x={left - 10} y={y + 5} class="e n">{order}</Words>
                    <line class="faint" x1={left} x2={right} y1={y} y2={y} />
                    {limit !== null && limit <= end && <line class="limit" x1={x(limit)} x2={x(limit)} y1={y - 9} y2={y + 9} />}
                    {part !== null && <line class="bar" x1={left} x2={x(part)} y1={y} y2={y} />}
                    {part !== null && <circle class="dot" cx={x(part)} cy={y} r={5} />}
                    <Words x={part === null ? left + 6 : x(part) + 10} y={y + 5} class="b halo">{part === null ? "–" : number(part, 1)}</Words>
                    <Words x={width} y={y + 5} class="e n">{amps === undefined ? "" : small(amps)}</Words>
                  </g>
                );
              })}
              <Scale end={end} x={x} y={14 + ORDERS.length * ROW - 6} />
            </>
          );
        }}
      />
    </div>
  );
}

interface Which {
  readonly side: Side;
  readonly place: string | null; // null: the first
}

const SIDES: readonly Side[] = ["current", "voltage"];

function chosenOf(all: Harmonics, { side, place }: Which): Which {
  const places = placesOf(all, side);
  return { side, place: place !== null && places.includes(place) ? place : (places[0] ?? "") };
}

/** Whose table it is, what is doubtful in it, and what the limits are. */
function Choices({ all, chosen, onChosen }: { all: Harmonics; chosen: Which | null; onChosen: (which: Which) => void }): JSX.Element {
  const those = SIDES.flatMap((side) => placesOf(all, side).map((place) => ({ side, place })));
  const { side, place } = chosen ?? { side: "current" as const, place: "" };
  return (
    <>
      <p class="choices" role="group" aria-label="Table of harmonics of">
        {those.map((each) => (
          <button key={`${each.side} ${each.place}`} class="as-table" aria-pressed={each.side === side && each.place === place} onClick={() => onChosen(each)}>
            {[each.side, each.place && placeWords(each.place)].filter(Boolean).join(", ")}
          </button>
        ))}
      </p>
      <p class="second">± is the 95 % uncertainty. Subgroup: the order and a line on each side; group: all lines to halfway. Angles are of sines, where the voltage rises through zero. {side === "current" && all.limits}</p>
      {reasonsOf(all, side, place ?? "").map((reason) => <p key={reason} class="second">{reason}</p>)}
    </>
  );
}

function frequency(picture: Picture): number | null {
  return numberOf(picture.readings, "frequency_hz") ?? numberOf(picture.readings, "current_frequency_hz");
}

/** Which of several currents it is. */
function whichWords(picture: Picture | null): string {
  const id = Object.keys(picture?.readings ?? {}).find((each) => keyOf(each) === "current_harmonics_a") ?? "";
  return placeOf(id) && `${placeWords(placeOf(id))}, `;
}

function small(amps: number): string {
  return amps < 1 ? withUnit(number(amps * 1000, amps < 0.1 ? 1 : 0), "mA") : withUnit(number(amps, 2), "A");
}

function height(): number {
  return 14 + ORDERS.length * ROW + 18;
}

function Scale({ end, x, y }: { end: number; x: (value: number) => number; y: number }): JSX.Element {
  const marks = ticks(end, 5);
  return (
    <>
      <line class="hair" x1={x(0)} x2={x(end)} y1={y} y2={y} />
      {marks.map((mark) => (
        <Words key={mark} x={x(mark)} y={y + 17} class="n m">{mark === marks[marks.length - 1] ? withUnit(String(mark), "%") : String(mark)}</Words>
      ))}
    </>
  );
}

/** The limit of class A for an order, in % of this fundamental. */
function limitPercent(found: readonly number[] | null, limits: readonly (number | null)[], order: number): number | null {
  const [first, limit] = [found?.[0], limits[order - 1]];
  return first && limit ? (100 * limit) / first : null;
}

function limitWords(found: readonly number[], limits: readonly (number | null)[], end: number): string {
  const drawn = ORDERS.some((order) => (limitPercent(found, limits, order) ?? Infinity) <= end);
  return `Class A limits (IEC 61000-3-2, for information only) ${drawn ? "are the upright marks; those without one lie" : "lie"} beyond this scale.`;
}

/** RMS of each order, order 1 first; null when the reading is absent or nothing flows. */
function amplitudes(picture: Picture): readonly number[] | null {
  const reading = find(picture.readings, "current_harmonics_a");
  const usable = reading && reading.confidence !== "absent" && reading.aged !== "absent" && Array.isArray(reading.value);
  return usable && (reading.value as readonly number[])[0]! > 0 ? (reading.value as readonly number[]) : null;
}

function share(found: readonly number[] | null, order: number): number | null {
  const [first, here] = [found?.[0], found?.[order - 1]];
  return first && here !== undefined && Number.isFinite(here) ? (100 * here) / first : null;
}

function percent(part: number | null): string {
  return part === null ? "absent" : withUnit(number(part, 1), "%");
}

function table(all: Harmonics | null, chosen: Which | null, frequency_hz: number | null): TableData {
  const rows = all && chosen ? harmonicRows(all, chosen.side, chosen.place ?? "", frequency_hz) : [];
  return { head: HEAD, rows };
}

const fits = (picture: Picture): boolean => find(picture.readings, "current_harmonics_a") !== undefined;

export const HARMONICS: Panel = { key: "harmonics", side: "drawings", fits, view: HarmonicsView };
