/** A limit is drawn where the lines are, or not at all. */
import { expect, it } from "vitest";
import { testPicture } from "../core/testing";
import type { StripLayout } from "./strip_layout";
import { stripLimits } from "./strip_limits";

const LAYOUT = { top: 20, currentTop: 130, speedY: (rpm: number) => 120 - rpm / 15, currentY: (a: number) => 180 - 50 * a } as unknown as StripLayout;

it("draws both ends of the speed and of the current that stand in the far line", () => {
  const limits = { speed_rpm: [300, 1500], current_rms_a: [null, 0.6], "current_rms_a.auxiliary": [null, 0.3] } as const;
  expect(stripLimits(testPicture({ limits }), LAYOUT)).toEqual([
    { role: "speed", value: 300, y: 100 }, { role: "speed", value: 1500, y: 20 }, { role: "current", value: 0.6, y: 150 },
  ]);
});

it("draws none that would lie among other lines", () => {
  const limits = { speed_rpm: [-300, 3000], current_rms_a: [-1, 5] } as const;
  expect(stripLimits(testPicture({ limits }), LAYOUT)).toEqual([]);
});
