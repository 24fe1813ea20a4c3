/** What was lost is told with the place where it was lost, so that nothing on the wire and something on the board is no contradiction. */
import { expect, it } from "vitest";
import { losses } from "./losses";
import { testPicture } from "./testing";

const none = testPicture({}).damage;

it("tells wire, board and missing samples even where there is nothing", () => {
  const found = losses({ ...none, frames: 103_975 });
  expect(found.map(({ where, amount }) => `${where}: ${amount}`)).toEqual([
    "Lost on the wire: 0 of 103\u2009975 frames", "Dropped by the board: 0 blocks", "Missing in all: 0 samples",
  ]);
  expect(found.every((each) => each.none)).toBe(true);
});

it("marks what is not zero, in its own line", () => {
  const found = losses({ ...none, frames: 103_975, dropped_blocks: 6, samples_missing: 568 });
  expect(found.filter((each) => !each.none).map(({ where, amount }) => `${where}: ${amount}`)).toEqual([
    "Dropped by the board: 6 blocks", "Missing in all: 568 samples",
  ]);
});

it("has a line for wrong checksums and late conversions only where there were some", () => {
  const found = losses({ ...none, frames: 90, frames_lost: 10, checksum: 1, overruns: 2 });
  expect(found.map(({ where, amount }) => `${where}: ${amount}`)).toEqual([
    "Lost on the wire: 10 of 100 frames", "With a wrong checksum: 1 frame", "Dropped by the board: 0 blocks", "Not measured in time: 2 samples",
    "Missing in all: 0 samples",
  ]);
});
