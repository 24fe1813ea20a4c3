/** What of a run can be exported, and how far an export is, in words. */
import { describe, expect, it } from "vitest";
import { type Format, type Making, choices, makingWords, spans, stateWords } from "./exports";
import type { Happened } from "./picture";

const AT = new Date(2026, 10, 25, 14, 2, 9).getTime() / 1000;
const event = (kind: string, later_s: number, decisive = true): Happened => ({ kind, text: kind === "power_on" ? "Power came on" : "Stalled", detail: "", decisive, utc_s: AT + later_s });
const format = (key: string, whats: Format["whats"], trouble = ""): Format => ({ key, label: key.toUpperCase(), suffix: `.${key}`, whats, trouble });
const MAKING: Making = { number: 1, run: "r", as: "csv", what: "waveforms", from_utc_s: null, to_utc_s: null, state: "making", share: 0.379, bytes: null, file: null, file_name: "r.csv", trouble: "", source: "" };

it("offers what each format holds, and none that cannot be written here", () => {
  const offered = choices([format("csv", ["readings", "waveforms"]), format("flac", ["waveforms"]), format("parquet", ["readings"], "its library is missing")]);
  expect(offered.map(({ words }) => words)).toEqual(["samples, SI units (CSV)", "samples, SI units (FLAC)", "readings (CSV)"]);
});

describe("a stretch", () => {
  it("is the whole run, a cycle up to the next power on, or what lies around an event", () => {
    const found = spans([event("power_on", 0), event("stalled", 30), event("power_on", 60), event("gap", 70, false)]);
    expect(found[0]).toEqual({ words: "whole run", group: "", from_utc_s: null, to_utc_s: null });
    expect(found.slice(1, 3).map(({ words }) => words)).toEqual(["from power on at 14:02:09 to 14:03:09", "from power on at 14:03:09 to the end"]);
    expect(found.slice(1, 3).map(({ to_utc_s }) => to_utc_s)).toEqual([AT + 60, null]);
    expect(found.slice(3).map(({ words, from_utc_s, to_utc_s }) => [words, from_utc_s! - AT, to_utc_s! - AT])).toEqual([
      ["14:02:09, Power came on", -10, 10], ["14:02:39, Stalled", 20, 40], ["14:03:09, Power came on", 50, 70]]);
  });
});

describe("an export", () => {
  it("says what it is of", () => {
    expect(makingWords(MAKING)).toBe("Samples as csv, whole run");
    expect(makingWords({ ...MAKING, what: "readings", from_utc_s: AT, to_utc_s: AT + 20 })).toBe("Readings as csv, 14:02:09 to 14:02:29");
    expect(makingWords({ ...MAKING, what: "report", as: "pdf" })).toBe("Report, PDF");
  });
  it.each([
    [{}, "37\u00a0% made"], [{ state: "waiting" }, "waiting"], [{ state: "made", bytes: 31_000_000 }, "31\u00a0MB"], [{ state: "failed", trouble: "the disk is full" }, "not made: the disk is full"],
  ] as const)("%o", (more, words) => expect(stateWords({ ...MAKING, ...more })).toBe(words));
});
