/** The spectrum as it is drawn: its scales, and which marks get words. Pure; knows no page. */

export interface Mark {
  readonly hz: number;
  readonly sign: string;
  readonly name: string;
  readonly source: string;
  readonly rms: number;
  readonly stands_out: boolean;
}

export interface Spectrum {
  readonly role: string;
  readonly place: string;
  readonly unit: string;
  readonly reason: string; // why there is none, or ""
  readonly to_hz: number;
  readonly resolution_hz: number;
  readonly fundamental_rms: number | null;
  readonly rms: readonly number[];
  readonly marks: readonly Mark[];
}

const DECADES = 5;

/** Powers of ten from the foot of the scale to its top: five decades below the highest line. */
export function decades(highest: number): readonly number[] {
  const top = highest > 0 ? Math.ceil(Math.log10(highest) - 1e-9) : 0;
  return Array.from({ length: DECADES + 1 }, (_, k) => top - DECADES + k);
}

/** How high a value stands on a scale of such decades: 0 at the foot, 1 at the top. */
export function heightOn(scale: readonly number[], value: number): number {
  const [foot, top] = [scale[0]!, scale[scale.length - 1]!];
  return value > 0 ? Math.min(1, Math.max(0, (Math.log10(value) - foot) / (top - foot))) : 0;
}

/** Relative to the fundamental, in decibels; null where there is none, or nothing at all. */
export function decibels(value: number, fundamental: number | null): number | null {
  return fundamental && value > 0 ? 20 * Math.log10(value / fundamental) : null;
}

export interface Placed {
  readonly mark: Mark;
  readonly x: number;
  readonly row: number | null; // in which row its words stand; null: no room for them
  readonly at: number; // where they begin
}

const CHARACTER = 7.4; // mean width of a character of 14 px, pixels
const APART = 10;

/** Words of the marks in so many rows, those that stand out first; none stands on another or outside. */
export function placeMarks(marks: readonly Mark[], x: (hz: number) => number, left: number, right: number, rows: number): Placed[] {
  const taken: (readonly [number, number])[][] = Array.from({ length: rows }, () => []);
  const ranked = [...marks].sort((a, b) => Number(b.stands_out) - Number(a.stands_out) || a.hz - b.hz);
  return ranked.map((mark) => {
    const [at, width] = [x(mark.hz), mark.sign.length * CHARACTER];
    const from = Math.min(Math.max(at - width / 2, left), right - width);
    const free = (row: readonly (readonly [number, number])[]): boolean => row.every(([a, b]) => from > b + APART || from + width < a - APART);
    const row = from < left ? -1 : taken.findIndex(free);
    if (row >= 0) taken[row]!.push([from, from + width]);
    return { mark, x: at, row: row < 0 ? null : row, at: from };
  });
}
