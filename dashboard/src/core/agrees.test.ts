/** Plate and measure: a four-pole motor at 50 Hz turns just below 1 500 r/min, a two-pole one below 3 000 (n = 60 f / p). */
import { expect, it } from "vitest";
import { compared, polePairs } from "./agrees";
import type { Picture } from "./picture";
import { testPicture } from "./testing";

const good = { confidence: "good", reason: "", at_utc_s: 1000, aged: "" } as const;

function running(values: Record<string, number>, plate: Record<string, number> = {}, more: Partial<Picture> = {}): Picture {
  const readings = Object.fromEntries(Object.entries(values).map(([id, value]) => [id, { value, ...good }]));
  return testPicture({
    readings: { run_state: { value: "running", ...good }, ...readings },
    motor: { name: "", type: "permanent_split_capacitor", plate, plate_source: "settings" }, ...more,
  });
}

it.each([[1380, 2], [1499, 2], [2850, 1], [2999, 1], [940, 3], [1500, 2], [710, 4]])("%i r/min at 50 Hz are %i pole pairs", (speed_rpm, pairs) => {
  expect(polePairs(running({ speed_rpm, frequency_hz: 50 }))).toBe(pairs);
});

it("tells poles in the other unit too, and none of a motor that follows no field", () => {
  expect(polePairs(running({ speed_rpm: 144.5, frequency_hz: 50 }, {}, { speed_unit: "rad/s" }))).toBe(2);
  const dc = { name: "", type: "series_dc", plate: {}, plate_source: "" };
  expect(polePairs(running({ speed_rpm: 1380, frequency_hz: 50 }, {}, { motor: dc }))).toBeNull();
});

it("says what agrees and what does not", () => {
  const picture = running({ speed_rpm: 1380, frequency_hz: 50, voltage_rms_v: 231, current_rms_a: 0.7 }, { voltage_v: 230, pole_pairs: 1, current_a: 0.55, frequency_hz: 60 });
  expect(compared("voltage_v", "V", picture)).toEqual({ said: "230\u00a0V", words: "agrees: 231.0\u00a0V", odd: false });
  expect(compared("frequency_hz", "Hz", picture)).toMatchObject({ words: "the plate says 60\u00a0Hz, measured 50.00\u00a0Hz", odd: true });
  expect(compared("current_a", "A", picture)).toMatchObject({ words: "the plate says 0.55\u00a0A, measured 0.70\u00a0A", odd: true });
  expect(compared("pole_pairs", "", picture)).toMatchObject({ words: "the plate says 2 poles, measured 4 poles", odd: true });
  expect(compared("power_w", "W", picture)).toEqual({ said: "", words: "", odd: false });
});

it("takes less current and another speed for no contradiction, and a voltage to neutral for what it is", () => {
  const picture = running({ speed_rpm: 900, current_rms_a: 0.2 }, { speed_rpm: 1380, current_a: 0.55 });
  expect(compared("speed_rpm", "", picture)).toMatchObject({ words: "now 900\u00a0r/min", odd: false });
  expect(compared("current_a", "A", picture)).toMatchObject({ words: "now 0.20\u00a0A", odd: false });
  const three = { name: "", type: "three_phase_induction", plate: { voltage_v: 400 }, plate_source: "" };
  expect(compared("voltage_v", "V", running({ voltage_rms_v: 231 }, {}, { motor: three })).words).toBe("agrees: 231.0\u00a0V to neutral");
  expect(compared("voltage_v", "V", running({ "voltage_rms_v.U": 9 }, { voltage_v: 24 })).words).toBe("");
});

it("offers what was measured where the plate does not say, and nothing of a motor that stands", () => {
  const picture = running({ speed_rpm: 1380, frequency_hz: 50 });
  expect(compared("pole_pairs", "", picture)).toEqual({ said: "", words: "measured 4 poles", odd: false });
  expect(compared("speed_rpm", "r/min", picture).words).toBe("measured 1\u2009380\u00a0r/min");
  const resting = { ...picture, readings: { ...picture.readings, run_state: { value: "resting", ...good } } };
  expect(compared("pole_pairs", "", resting).words).toBe("");
});
