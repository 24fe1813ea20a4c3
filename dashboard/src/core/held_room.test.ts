/** Less room is told at once, more only when it has been so for five minutes. */
import { expect, it } from "vitest";
import { type HeldRoom, heldRoom } from "./held_room";
import { roomWords } from "./words";

const NIGHT_S = 36_000;

function told(nights: readonly number[], step_s: number): string[] {
  let held: HeldRoom | null = null;
  return nights.map((count, k) => {
    held = heldRoom(held, count * NIGHT_S, 1000 + k * step_s);
    return roomWords(held.room_s);
  });
}

it("does not flicker while the rate of what is recorded goes up and down", () => {
  expect(new Set(told([3.2, 5, 4, 7, 3.4, 7, 4, 5, 3.3, 7], 60))).toEqual(new Set(["room for 3 nights"]));
});

it("tells less at once, and more when it has been so for five minutes", () => {
  expect(told([7, 2, 7, 7, 7], 10)).toEqual(["room for 7 nights", ...Array.from({ length: 4 }, () => "room for 2 nights")]);
  expect(told([2, 7, 7, 7], 150)).toEqual(["room for 2 nights", "room for 2 nights", "room for 7 nights", "room for 7 nights"]);
});

it("holds nothing from a clock that was set back", () => {
  expect(heldRoom({ room_s: 5, near_utc_s: 1000 }, 9, 900)).toEqual({ room_s: 9, near_utc_s: 900 });
});
