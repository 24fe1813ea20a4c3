/**
 * Forward order of three Hall sensors 120 degrees apart, bits C B A: 5 1 3 2 6 4. It is the six-step table of
 * the trade with its bits read in that order; see tests/server/hall for the published table.
 */
import { describe, expect, it } from "vitest";
import { foundBySector, turnsTooFast } from "./hall";
import type { Hall } from "./picture";
import { testPicture } from "./testing";

const RIGHT = [5, 1, 3, 2, 6, 4];

function hall(seen: number[], direction: number): Hall {
  return { state: 5, sector: 1, electrical_deg: 47, direction, valid: true, seen, right: RIGHT, counts: [0, 1, 1, 1, 1, 1, 1, 0] };
}

describe("states on the ring", () => {
  it("stand in their sectors wherever the turn began", () => {
    for (let by = 0; by < 6; by++) expect(foundBySector(hall([...RIGHT.slice(by), ...RIGHT.slice(0, by)], 1))).toEqual(RIGHT);
  });

  it("are read backward when the shaft turns backward", () => {
    expect(foundBySector(hall([5, 4, 6, 2, 3, 1], -1))).toEqual(RIGHT);
  });

  it("stay right when the shaft has stopped from turning backward", () => {
    for (const direction of [0, null]) expect(foundBySector({ ...hall([5, 4, 6, 2, 3, 1], 0), direction })).toEqual(RIGHT);
  });

  it("with Hall B inverted leave two of six right, as 1 and 6 are swapped with 3 and 4 and illegal states come", () => {
    const inverted = RIGHT.map((state) => state ^ 2);
    const found = foundBySector(hall(inverted, 1));
    expect([...found].sort()).toEqual([...inverted].sort());
    expect(found.filter((state, k) => state === RIGHT[k])).toHaveLength(2);
  });

  it("are not placed before a whole turn was seen", () => {
    expect(foundBySector(hall([5, 1, 3], 1))).toEqual([]);
  });
});

it("hides the shaft's tick when 7 pole pairs turn at 18 r/min and more: above two electrical turns a second", () => {
  const at = (rpm: number): boolean => {
    const speed_rpm = { value: rpm, confidence: "good", reason: "", at_utc_s: 0, aged: "" } as const;
    const motor = { name: "", type: "brushless", plate: { pole_pairs: 7 }, plate_source: "" };
    return turnsTooFast(testPicture({ motor, readings: { speed_rpm } }));
  };
  expect([17, 18, -2690].map(at)).toEqual([false, true, true]);
});
