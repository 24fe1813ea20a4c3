import { expect, test } from "vitest";
import { type Choice, orderWords, sorted } from "./teaching";

const choice = (key: string): Choice => ({ key, says: "", values: null, low: 0, high: 1 });

test("what matters most stands first, whatever order the motor tells it in", () => {
  const { first, more } = sorted(["hall_late_deg", "phase_order", "drive", "hall_joined"].map(choice));
  expect(first.map(({ key }) => key)).toEqual(["drive", "phase_order"]);
  expect(more.map(({ key }) => key)).toEqual(["hall_late_deg", "hall_joined"]);
});

test("an order of wires is said place by place, the right one not at all", () => {
  expect(orderWords("BCA", "ABC")).toBe("B on A, C on B, A on C");
  expect(orderWords("ABC", "ABC")).toBe("");
});
