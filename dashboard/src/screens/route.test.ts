/** An address names a screen; adding lies over the one that was shown. */
import { expect, it } from "vitest";
import { next, screenOf } from "./route";
import type { Screen } from "./screen";

const screen = (key: string): Screen => ({ key, name: key, far: false, view: () => null });
const SCREENS = [screen("watch"), screen("rig")];
const START = { screen: "", adding: false };

it.each([["", "watch"], ["#watch", "watch"], ["#rig", "rig"], ["#rig/plate", "rig"], ["#nowhere", "watch"]])("%s shows %s", (hash, key) => {
  expect(screenOf(SCREENS, next(START, hash)).key).toBe(key);
});

it("keeps the screen below while another motor is added", () => {
  const adding = next(next(START, "#rig"), "#another");
  expect(adding).toEqual({ screen: "rig", adding: true });
  expect(next(adding, "#rig").adding).toBe(false);
});
