/** What a list says of a run, and where the next event lies. */
import { describe, expect, it } from "vitest";
import { clock, size } from "./format";
import type { Happened } from "./picture";
import { type Run, accountNote, facts, filters, happenedWords, lengthWords, narrowed, nextEvent, referenceOf, whenWords, whoseWords, withTag, workWords } from "./runs";

const NOV_25 = new Date(2026, 10, 25, 14, 2, 9).getTime() / 1000;
const RUN: Run = {
  name: "20261125-1402-heron-1", rig: "heron-1", serial: "HB-0001", opened_utc_s: NOV_25, closed_utc_s: NOV_25 + 842, reason: "ended by a person",
  recording: false, silent_since_utc_s: null, length_s: 842, bytes: 4_751_111, motor: "cabin ventilator", type: "permanent_split_capacitor", source: "demo",
  happened: ["stalled", "load changed twice"], events_count: 3, missing_s: 0, kinds: ["power_on", "stalled"], note: "", tags: [], start: null, summed_up: true, summing_up_share: null, trouble: "",
};
const event = (utc_s: number): Happened => ({ kind: "stalled", text: "Stalled", detail: "", decisive: true, utc_s });

it("tells when in local time, with the year only where it is another", () => {
  expect(whenWords(NOV_25, NOV_25)).toBe("25\u00a0Nov 14:02");
  expect(whenWords(NOV_25, NOV_25 + 86_400 * 300)).toBe("25\u00a0Nov 2026 14:02");
});


it("says what an account comes to, of a run that goes on so far and since when", () => {
  const [right, wrong] = [{ exact: true }, { exact: false }];
  expect(accountNote([right], false, null)).toBe("every sample is stored, or missing for a reason");
  expect(accountNote([right], true, NOV_25)).toBe("so far every sample is stored, or missing for a reason; counted since 14:02, when the service was started again");
  expect(accountNote([right], true, null, NOV_25)).toBe(`so far every sample is stored, or missing for a reason up to ${clock(NOV_25)}; nothing came after`);
  expect(accountNote([right, wrong], false, null)).toBe("1 of 2 sums are wrong: our fault");
});

it("names motor, rig and what is no hardware", () => {
  expect(whoseWords(RUN)).toBe("cabin ventilator, heron-1, demo");
  expect(whoseWords({ ...RUN, motor: "", type: "permanent_magnet_dc" })).toBe("permanent magnet DC, heron-1, demo");
  expect(whoseWords({ ...RUN, motor: "", source: "hardware" })).toBe("permanent split capacitor, heron-1");
});

describe("what happened", () => {
  it.each([
    [{}, "stalled; load changed twice"],
    [{ recording: true, closed_utc_s: null }, "being recorded; stalled; load changed twice"],
    [{ recording: true, closed_utc_s: null, silent_since_utc_s: NOV_25 + 60 }, `open, but no samples since ${clock(NOV_25 + 60)}; stalled; load changed twice`],
    [{ happened: ["a", "b", "c", "d"] }, "a; b; c; d"],
    [{ happened: ["a", "b", "c", "d", "e"] }, "a; b; c; and 2 more"],
    [{ summed_up: false, happened: [] }, "waits to be summed up"],
    [{ summed_up: false, happened: [], summing_up_share: 0.4 }, "being summed up"],
    [{ summed_up: false, happened: [], trouble: "its folder is gone" }, "its folder is gone"],
    [{ closed_utc_s: null, summed_up: false, happened: [] }, "not ended: its board or the service went away; waits to be summed up"],
    [{ closed_utc_s: null, happened: [] }, "not ended: its board or the service went away"],
    [{ closed_utc_s: null }, "stalled; load changed twice; not ended: its board or the service went away"],
  ] as const)("%o", (more, words) => expect(happenedWords({ ...RUN, ...more })).toBe(words));

  it("says what is at work on it, and that it waits for that", () => {
    expect(workWords(RUN)).toBe("");
    expect(workWords({ ...RUN, summed_up: false })).toBe("It waits its turn to be summed up");
    expect(workWords({ ...RUN, summed_up: false, summing_up_share: 0.4 })).toBe("Being summed up, by playing the run");
    expect(workWords({ ...RUN, summed_up: false, recording: true })).toBe("");
    expect(workWords({ ...RUN, summed_up: false, trouble: "its folder is gone" })).toBe("");
  });
});

it("tells of an opened run how it ended and how much of it is missing", () => {
  const told = Object.fromEntries(facts({ ...RUN, missing_s: 7, events: [], gaps: [], overview: null, troubles: [], thinned: "", account: [], counted_from_utc_s: null }));
  expect(told).toMatchObject({ "Without samples": "7\u00a0s", "Ended": "25\u00a0Nov 14:16, ended by a person", "Size": "4.8\u00a0MB" });
});

it("finds the next event, and going back passes the one that has just been played", () => {
  const events = [event(100), event(150), event(200)];
  expect(nextEvent(events, 100.1, true)?.utc_s).toBe(150);
  expect(nextEvent(events, 150.5, false)?.utc_s).toBe(100);
  expect(nextEvent(events, 160, false)?.utc_s).toBe(150);
  expect(nextEvent(events, 200, true)).toBeNull();
});

it.each([[12_000, "12\u00a0kB"], [31e6, "31\u00a0MB"], [4.6e6, "4.6\u00a0MB"], [12.3e9, "12\u00a0GB"]])("size %s", (bytes, words) => expect(size(bytes)).toBe(words));

it.each([[9, "9\u00a0s"], [842, "14\u00a0min"], [37_230, "10\u00a0h 20\u00a0min"], [null, ""]])("length %s", (length_s, words) => expect(lengthWords({ length_s, opened_utc_s: 0, silent_since_utc_s: null })).toBe(words));
it("time since the cable is out is no length of a run", () => expect(lengthWords({ length_s: 1200, opened_utc_s: 1000, silent_since_utc_s: 1060 })).toBe("1\u00a0min"));

describe("the list", () => {
  const fan = { ...RUN, name: "fan" };
  const grinder = { ...RUN, name: "grinder", type: "split_phase", motor: "bench grinder", kinds: ["alarm"] };
  it("is narrowed to a type and to what happened, and offers only what stands in it", () => {
    expect(filters([fan, grinder])).toEqual({ types: ["permanent_split_capacitor", "split_phase"], kinds: [["alarm", "an alarm"], ["stalled", "a stall"]] });
    expect(narrowed([fan, grinder], "", "")).toEqual([fan, grinder]);
    expect(narrowed([fan, grinder], "split_phase", "")).toEqual([grinder]);
    expect(narrowed([fan, grinder], "", "stalled")).toEqual([fan]);
    expect(narrowed([fan, grinder], "split_phase", "stalled")).toEqual([]);
  });
  it("keeps a tag once, whatever its capitals and spaces", () => {
    expect(withTag(["old wheel"], "  Old   wheel ")).toEqual(["old wheel"]);
    expect(withTag(["old wheel"], "reference ")).toEqual(["old wheel", "reference"]);
    expect(withTag([], "  ")).toEqual([]);
  });
  it("compares with the newest run of the same motor that is tagged so, never with itself", () => {
    const [newer, older] = [{ ...fan, name: "newer", tags: ["Reference"] }, { ...fan, name: "older", tags: ["reference"] }];
    expect(referenceOf(fan, [{ ...grinder, tags: ["reference"] }, newer, older])).toBe(newer);
    expect(referenceOf(newer, [newer, older])).toBe(older);
    expect(referenceOf(fan, [{ ...fan, name: "other", tags: ["reference wheel"] }])).toBeNull();
  });
});
