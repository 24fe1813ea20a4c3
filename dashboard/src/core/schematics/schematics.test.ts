/** The drawings against the points that the service names; tests/server/motors/test_connections.py keeps points.json the same as those. */
import { expect, it } from "vitest";
import { SCHEMATICS } from "./index";
import { type Mark, type Schematic, type Spot, WIDTH } from "./parts";

const FILES = import.meta.glob<Readonly<Record<string, readonly string[]>>>("./points.json", { eager: true, import: "default" });
const POINTS = FILES["./points.json"]!;
const drawn: [string, Schematic][] = Object.entries(SCHEMATICS);

it("draws every type of motor that the service knows", () => {
  expect(Object.keys(SCHEMATICS).sort()).toEqual(Object.keys(POINTS).sort());
  expect(drawn).toHaveLength(15);
});

it.each(drawn)("shows each point of %s once, and none that the service does not name", (type, { marks }) => {
  expect(marks.map(({ sensor, place }) => `${sensor} ${place}`).sort()).toEqual([...POINTS[type]!].sort());
});

it.each(drawn)("keeps all of %s inside the drawing", (_, { marks, notes, height }) => {
  const spots: Spot[] = [...notes.map(({ at }) => at), ...marks.flatMap((mark) => [mark.name, ...ends(mark)])];
  for (const [x, y] of spots) {
    expect(x).toBeGreaterThanOrEqual(8);
    expect(x).toBeLessThanOrEqual(WIDTH - 4);
    expect(y).toBeGreaterThanOrEqual(12);
    expect(y).toBeLessThanOrEqual(height);
  }
});

it.each(drawn)("puts every current sensor and every probe of %s on a conductor", (_, schematic) => {
  const all = [...segments(schematic.lines), ...segments(schematic.dashed)];
  for (const mark of schematic.marks) {
    if (mark.sensor === "pulse") continue; // at the shaft
    for (const spot of ends(mark)) expect(all.some((segment) => lies(spot, segment)), `${mark.sensor} ${mark.place}`).toBe(true);
  }
});

it.each(drawn)("points every arrow of %s along its conductor", (_, schematic) => {
  const all = segments(schematic.lines);
  for (const mark of schematic.marks) {
    if (mark.sensor !== "current") continue;
    const under = all.filter((segment) => lies(mark.at, segment));
    expect(under.some(([[, a], [, b]]) => (mark.towards === 0 ? a === b : a !== b)), mark.place).toBe(true);
  }
});

function ends(mark: Mark): Spot[] {
  return mark.sensor === "voltage" ? [mark.plus, mark.minus] : [mark.at];
}

type Segment = readonly [Spot, Spot];

/** Straight pieces of paths made of M and L alone. */
function segments(paths: readonly string[]): Segment[] {
  return paths.filter((path) => /^[ML\d. -]+$/.test(path)).flatMap((path) => {
    const spots = path.split(/[ML]/).filter(Boolean).map((pair) => pair.trim().split(" ").map(Number) as unknown as Spot);
    return spots.slice(1).map((spot, k) => [spots[k]!, spot] as const);
  });
}

function lies([x, y]: Spot, [[x1, y1], [x2, y2]]: Segment): boolean {
  const away = Math.abs((x2 - x1) * (y - y1) - (y2 - y1) * (x - x1));
  const between = x >= Math.min(x1, x2) - 1 && x <= Math.max(x1, x2) + 1 && y >= Math.min(y1, y2) - 1 && y <= Math.max(y1, y2) + 1;
  return away < 1 && between;
}
