import { expect, it } from "vitest";
import { type Look, heldWords, lookWords, seenWords } from "./calibration";
import { withUncertainty } from "./rounding";

it("ends the digits of a value where its uncertainty ends, as everywhere on the page", () => {
  expect(withUncertainty(3.99987, 0.01131, "A")).toBe("4.000 ± 0.012\u00a0A");
  expect(withUncertainty(230.04, 1.96, "V")).toBe("230.0 ± 2.0\u00a0V");
  expect(withUncertainty(-1.0801, 0.05, "°")).toBe("−1.08 ± 0.05°");
  expect(withUncertainty(15000, 240, "V")).toBe("15\u2009000 ± 240\u00a0V");
  expect(withUncertainty(4.0812, 0.0996, "A")).toBe("4.08 ± 0.10\u00a0A");
});

it("says where an uncertainty is not known, and writes none where there is none", () => {
  expect(withUncertainty(4.08, null, "A")).toBe("4.08\u00a0A, ± is not known");
  expect(withUncertainty(0, 0, "A")).toBe("0\u00a0A");
});

const LOOK: Look = { pieces: 15, of: 15, mean: 0.0012, rms: 4.0812, scatter: 0.00031, lead_deg: -1.08, hertz: 50, unit: "A", refusal: "" };

it("tells the live reading by what is calibrated, with its scatter", () => {
  expect(lookWords(LOOK, "gain")).toBe("RMS 4.0812\u00a0A, scatter 0.0003\u00a0A");
  expect(lookWords(LOOK, "zero")).toBe("mean 0.0012\u00a0A, scatter 0.0003\u00a0A");
  expect(lookWords({ ...LOOK, mean: -4.081 }, "gain")).toBe("mean −4.0810\u00a0A, scatter 0.0003\u00a0A");
  expect(lookWords(LOOK, "angle")).toBe("the current lags by 1.080°");
  expect(lookWords({ ...LOOK, lead_deg: null }, "angle")).toBe("no angle yet");
  expect(lookWords({ ...LOOK, mean: null, rms: null, pieces: 0 }, "gain")).toBe("–");
});

it("tells how much has been seen", () => {
  expect(seenWords(LOOK)).toBe("three seconds seen");
  expect(seenWords({ ...LOOK, pieces: 5 })).toBe("1.0 of 3.0\u00a0s seen");
});

it("tells in a line which calibrations of a channel hold", () => {
  const channel = { channel: 1, role: "current", name: "I", place: "line", unit: "A", words: {}, entries: [] };
  const entry = { made_utc_s: 0, reference: "", value: 1, u95: 0.1, frequency_hz: null, undone_utc_s: null };
  expect(heldWords(channel)).toBe("not calibrated");
  expect(heldWords({ ...channel, entries: [{ ...entry, what: "gain", holds: true }, { ...entry, what: "zero", holds: true }, { ...entry, what: "angle", holds: false }] })).toBe("zero, gain calibrated");
});
