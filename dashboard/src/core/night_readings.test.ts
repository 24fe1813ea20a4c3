/** Which readings of a night are drawn, and in which scale. */
import { expect, it } from "vitest";
import { DRAWN_MAX, USUAL, drawn, extent, lastOf, lastWords, limited, nameOf, rangeWords, roleOf, scaleOf, toggled } from "./night_readings";

const THERE = ["run_state", "speed_rpm", "current_mean_a", "voltage_mean_v", "commutator_noise_a", "temperature_c.housing"];
const FAR = ["speed_rpm", "current_mean_a", "voltage_mean_v"];
const quantity = { key: "current_mean_a", symbol: "I", label: "mean current", unit: "A", digits: 3 };

it("draws the main readings, current first, then what has a limit or an alarm, each once", () => {
  expect(drawn(FAR, ["commutator_noise_a", "speed_rpm"], USUAL, THERE)).toEqual(["current_mean_a", "speed_rpm", "voltage_mean_v", "commutator_noise_a"]);
  expect(limited({ current_mean_a: [null, 5], speed_rpm: [null, null] })).toEqual(["current_mean_a"]);
});

it("takes the mean where there is no RMS, leaves out words and what the run does not have", () => {
  expect(drawn(["run_state", "current_rms_a", "slip"], [], USUAL, THERE)).toEqual(["current_mean_a"]);
});

it("draws of a mean and an RMS that of the main readings, also where the other has an alarm, and both where a person wants both", () => {
  const there = [...THERE, "current_rms_a"];
  expect(drawn(FAR, ["current_rms_a"], USUAL, there)).toEqual(["current_mean_a", "speed_rpm", "voltage_mean_v"]);
  expect(drawn(FAR, ["current_rms_a"], toggled(USUAL, "current_rms_a", FAR, true), there)).toContain("current_rms_a");
});

it("adds and drops by hand, and going back to the usual ones keeps no trace of it", () => {
  const more = toggled(USUAL, "temperature_c.housing", FAR, true);
  expect(drawn(FAR, [], more, THERE)).toContain("temperature_c.housing");
  const less = toggled(more, "speed_rpm", FAR, false);
  expect(drawn(FAR, [], less, THERE)).not.toContain("speed_rpm");
  expect(toggled(toggled(less, "speed_rpm", FAR, true), "temperature_c.housing", FAR, false)).toEqual(USUAL);
});

it("draws no more than one picture may ask for", () => {
  const many = Array.from({ length: 60 }, (_, k) => `temperature_c.${k}`);
  expect(drawn(many, [], USUAL, many)).toHaveLength(DRAWN_MAX);
});

it("reaches as far as the data and a near limit do; a far one is told, not drawn", () => {
  expect(scaleOf([3.5, 6], [null, 5])).toEqual({ low: 3.5, high: 6, limits: [5], beyond: [] });
  expect(scaleOf([3.6, 4.4], [null, 5])).toMatchObject({ high: 5, limits: [5] });
  expect(scaleOf([3.6, 4.4], [null, 50])).toMatchObject({ high: 4.4, limits: [], beyond: [50] });
});

it("does not blow up what hardly changes", () => {
  const { low, high } = scaleOf([12, 12.001], []);
  expect(high - low).toBeGreaterThan(0.4);
  expect(scaleOf([0, 0], []).high).toBeGreaterThan(scaleOf([0, 0], []).low);
});

it("finds lowest, highest and the newest mean, past columns without values", () => {
  const band = { low: Float32Array.from([NaN, 1, 2, NaN]), high: Float32Array.from([NaN, 3, 9, NaN]), mean: Float32Array.from([NaN, 2, 4, NaN]), trusted: Float32Array.from([0, 1, 0.4, 0]), bound: "" as const };
  expect(extent(band)).toEqual([1, 9]);
  expect(lastOf(band)).toEqual({ value: 4, doubtful: true, bound: "" });
  expect(lastOf({ ...band, trusted: Float32Array.from([0, 1, 0.5, 0]) })).toEqual({ value: 4, doubtful: false, bound: "" });
  expect(extent({ low: Float32Array.from([NaN]), high: Float32Array.from([NaN]) })).toBeNull();
});

it("says of a last value that is only a bound which way it is one", () => {
  const last = { value: -12, doubtful: true, bound: "≤" as const };
  expect(lastWords(last, { ...quantity, key: "speed_rpm", unit: "r/min", digits: 0 })).toBe("≤\u00a012\u00a0r/min");
  expect(lastWords({ ...last, value: 8, bound: "≥" }, quantity)).toBe("≥\u00a08.00\u00a0A");
  expect(lastWords({ ...last, bound: "" }, quantity)).toBe("\u221212.00\u00a0A");
});

it("names a line shortly and by its place, and gives it the colour of its quantity", () => {
  expect(nameOf("current_mean_a", quantity, ["speed_rpm"])).toBe("current");
  expect(nameOf("current_mean_a", { ...quantity, label: "mean current" }, ["current_mean_a", "current_rms_a"])).toBe("mean current");
  expect(nameOf("current_rms_a.U", quantity, ["current_rms_a.U", "current_mean_a.V"])).toBe("current, phase U");
  expect(["current_mean_a", "edge_speed_rpm", "voltage_rms_v.U", "active_power_w"].map(roleOf)).toEqual(["current", "speed", "voltage", "power"]);
  expect(rangeWords([3.608, 5.8], quantity)).toBe("3.61 to 5.80");
});
