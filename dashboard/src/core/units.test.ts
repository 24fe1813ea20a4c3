/** Speeds in rad/s: 1 r/min is 2π/60 rad/s (SI Brochure: plane angle in radian; the rest is arithmetic). */
import { expect, it } from "vitest";
import { Store } from "./store";
import { testPicture } from "./testing";
import { pictureIn, quantityIn, sentenceIn, stripIn } from "./units";

const good = { confidence: "good", reason: "", at_utc_s: 1000, aged: "" } as const;
const strip = {
  start_utc_s: 0, wide_s: 1.5, end_s: 2, states: [], gaps: [], synchronous_speed_rpm: 1500,
  wide: { t: Float32Array.of(0.1), speed: Float32Array.of(1380), current: Float32Array.of(0.5) },
  rest: { t: Float32Array.of(2), speed_low: Float32Array.of(-60), speed_high: Float32Array.of(NaN), current_low: Float32Array.of(0.5), current_high: Float32Array.of(0.6) },
};

it("leaves everything as it is in r/min", () => {
  const picture = testPicture({});
  expect(pictureIn(picture)).toBe(picture);
  expect(stripIn(strip, "r/min")).toBe(strip);
});

it("turns readings, plate, limits and sentences, and nothing that is no speed", () => {
  const readings = {
    speed_rpm: { value: 60, u95: 30, ...good, reason: "no edge for 0.3 s: at most 12 r/min" }, slip: { value: 0.08, ...good },
    current_rms_a: { value: 0.5, ...good }, tacho_speed_rpm: { value: null, ...good },
  };
  const event = { kind: "running", text: "Up to speed", detail: "95 % of 1380 r/min", decisive: true, utc_s: 0 };
  const turned = pictureIn(testPicture({
    speed_unit: "rad/s", readings, events: [event], limits: { speed_rpm: [null, 3000], current_rms_a: [0.1, 1] },
    motor: { name: "", type: "", plate: { speed_rpm: 1380, current_a: 0.55 }, plate_source: "board" },
  }));
  expect(turned.readings["speed_rpm"]!.value).toBeCloseTo(2 * Math.PI, 12);
  expect(turned.readings["speed_rpm"]!.reason).toBe("no edge for 0.3 s: at most 1.3 rad/s");
  expect(turned.readings["speed_rpm"]).toMatchObject({ u95: Math.PI, at_utc_s: 1000 });
  expect(turned.readings["tacho_speed_rpm"]!.value).toBeNull();
  expect([turned.readings["slip"], turned.readings["current_rms_a"]]).toEqual([readings.slip, readings.current_rms_a]);
  expect(turned.limits["speed_rpm"]![1]).toBeCloseTo(100 * Math.PI, 9);
  expect(turned.limits["current_rms_a"]).toEqual([0.1, 1]);
  expect(turned.motor.plate["speed_rpm"]).toBeCloseTo(46 * Math.PI, 9);
  expect(turned.motor.plate["current_a"]).toBe(0.55);
  expect(turned.events[0]!.detail).toBe("95 % of 144.5 rad/s");
});

it("turns the strip, the current not", () => {
  const turned = stripIn(strip, "rad/s");
  expect(turned.synchronous_speed_rpm).toBeCloseTo(50 * Math.PI, 9);
  expect(turned.wide.speed[0]).toBeCloseTo(144.51, 2);
  expect(turned.rest.speed_low[0]).toBeCloseTo(-2 * Math.PI, 5);
  expect(turned.rest.speed_high[0]).toBeNaN();
  expect(turned.wide.current).toBe(strip.wide.current);
});

it("names the unit with one decimal more", () => {
  const speed = { key: "speed_rpm", symbol: "n", label: "speed", unit: "r/min", digits: 0 };
  expect(quantityIn(speed, "rad/s")).toMatchObject({ unit: "rad/s", digits: 1 });
  expect(quantityIn({ ...speed, unit: "A" }, "rad/s").unit).toBe("A");
  expect(sentenceIn("rose to 12.5 r/min, then 3 A")).toBe("rose to 1.31 rad/s, then 3 A");
});

it("turns the strip that the page has kept when another unit is chosen, and back", () => {
  const store = new Store();
  store.commit(testPicture({ strip }), 0, 0);
  store.commit(testPicture({ number: 2, speed_unit: "rad/s" }), 0, 1);
  expect(store.strip.value!.synchronous_speed_rpm).toBeCloseTo(50 * Math.PI, 9);
  expect(store.live.value!.readings["speed_rpm"]!.value).toBeCloseTo(144.51, 2);
  store.commit(testPicture({ number: 3 }), 0, 2);
  expect(store.strip.value).toBe(strip);
});
