/** When zero stands in the middle of the drawing and when at its foot, and that noise is not blown up. */
import { describe, expect, it } from "vitest";
import type { Span, Trace } from "../core/picture";
import { testLine, testPicture } from "../core/testing";
import { Scales, heightOf, layoutOf, shapeOf } from "./trace_layout";

function trace(voltage: Span, current: Span): Trace {
  const amps = { role: "current", place: "line", name: "I", unit: "A", range: [-40, 40] as Span };
  return { ...testPicture({}).trace!, lines: [testLine({ peak: voltage, range: [-400, 400] }), testLine({ ...amps, peak: current })] };
}

const [AC, DC, REST] = [trace([-325, 325], [-20, 20]), trace([35.7, 36.1], [-0.3, 9]), trace([-0.1, 0.1], [-0.01, 0.01])];

describe("the main row", () => {
  it("has zero in its middle for alternating current, at its foot for direct current, from the first picture on", () => {
    expect(new Scales().take(AC, 0).oneSided).toBe(false);
    expect(new Scales().take(DC, 0).oneSided).toBe(true);
  });

  it("becomes two-sided at once and one-sided only after three seconds", () => {
    const scales = new Scales();
    const seen = ([[DC, 0], [AC, 33], [DC, 100], [DC, 3000], [DC, 3200]] as const).map(([each, ms]) => scales.take(each, ms).oneSided);
    expect(seen).toEqual([true, false, false, false, true]);
  });

  it("stays as it was while nothing flows", () => {
    const scales = new Scales();
    scales.take(AC, 0);
    expect(scales.take(REST, 10_000).oneSided).toBe(false);
  });

  it("does not fill the drawing with the noise of a motor at rest", () => {
    const ends = new Scales().take(REST, 0);
    expect(ends.end("current", true)).toBeGreaterThanOrEqual(0.02 * 40);
    expect(ends.end("voltage", true)).toBeGreaterThanOrEqual(0.02 * 400);
  });
});

describe("a motor behind a drive", () => {
  const BACK = trace([35.7, 36.1], [-1.7, 0.9]); // the link takes some back

  it("keeps zero at its foot while current flows back, so that no half of the drawing is empty", () => {
    const scales = new Scales();
    const seen = ([[DC, 0], [BACK, 33], [DC, 5000], [BACK, 5033]] as const).map(([each, ms]) => scales.take(each, ms).oneSided);
    expect(seen).toEqual([true, true, true, true]);
  });

  it.each([[1100, false], [360, true]] as const)("has rows of %i px of which none reaches into another, in a stall too", (width, slim) => {
    const peaks: [string, Span][] = [["U", [-0.1, 0.1]], ["V", [29.8, 29.9]], ["W", [-30, -29.9]]];
    const phases = peaks.map(([place, peak]) => testLine({ role: "current", place, name: `I ${place}`, unit: "A", range: [-40, 40], peak }));
    const stalled = { ...BACK, lines: [...BACK.lines, ...phases] };
    const ends = new Scales().take(stalled, 0);
    const size = { width, height: heightOf(shapeOf(stalled, false), slim), slim };
    const lanes = layoutOf(stalled, size, ends.oneSided).rows.map(({ row, y0, half }, k) => {
      const reach = [row.voltage, row.current].flatMap((line) => (line ? line.peak.map((value) => y0 - (value * half) / ends.end(line.role as "voltage", k === 0)) : [y0]));
      return [Math.min(...reach), Math.max(...reach)] as const;
    });
    expect(lanes).toHaveLength(4);
    lanes.slice(1).forEach(([top], k) => expect(top - lanes[k]![1]).toBeGreaterThanOrEqual(12));
    expect(lanes[0]![0]).toBeGreaterThanOrEqual(0);
  });
});

describe("three phases of equal rank", () => {
  const phase = (place: string): ReturnType<typeof testLine> => testLine({ place });
  const three = { ...testPicture({}).trace!, lines: ["L1", "L2", "L3"].map(phase) };

  it("have rows of one height with room above them for their order in words", () => {
    const layout = layoutOf(three, { width: 900, height: heightOf(shapeOf(three, false), false), slim: false }, false);
    expect(layout.sequenceY).not.toBeNull();
    expect(new Set(layout.rows.map(({ half }) => half)).size).toBe(1);
    expect(layout.rows[0]!.top).toBeGreaterThan(layout.sequenceY!);
    expect(layout.rows[2]!.foot).toBeLessThan(layout.axisY);
  });
});
