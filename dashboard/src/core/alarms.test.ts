import { describe, expect, it } from "vitest";
import { type Alarm, type AlarmSettings, actWords, alarmChange, alarmFields, alarmGiven, calls, causeOf, mustSayItWatches, readyFields, spoken, standWords, stands, tagKind, whyWords } from "./alarms";

export const ALARM: Alarm = {
  rig: "heron-1", id: "heron-1-1", name: "stalled", rank: "alarm", act: "Switch off", why: "The motor is stalled.", reading: "", value: "", limit: "",
  unknown: "", more: 0, raised_utc_s: 0, acknowledged: null, ended_utc_s: null, shelved_until_utc_s: null,
};
const OVER: Alarm = { ...ALARM, name: "over", reading: "current_rms_a", why: "Current is above 3.0\u00a0A.", value: "3.4\u00a0A", limit: "above 3.0\u00a0A" };

describe("an alarm in words", () => {
  it("says the act first, and the rig before it where another one is shown", () => {
    expect(actWords(ALARM, "heron-1")).toBe("Switch off");
    expect(actWords(ALARM, "heron-2")).toBe("heron-1: Switch off");
  });

  it("says why, what it is now, that it is held, and what was folded into it", () => {
    expect(whyWords(OVER)).toBe("Current is above 3.0\u00a0A. Now 3.4\u00a0A.");
    expect(whyWords({ ...OVER, unknown: "absent: no samples for 6 s", more: 12 })).toBe("Current is above 3.0\u00a0A. Now 3.4\u00a0A. Whether it is so now can\u2019t be told: absent: no samples for 6 s. It came 13 times.");
    expect([mustSayItWatches({ ...OVER, rank: "alarm" }), mustSayItWatches({ ...OVER, rank: "alarm", why: "It is so; Slipring only estimates and never stops a motor." })]).toEqual([true, false]);
    expect(whyWords({ ...OVER, more: 1 })).toMatch(/ It came twice\.$/);
    const held = { ...OVER, why: "Current was above 3.0\u00a0A.", more: 4, first_utc_s: 60, so_s: 47.2, quiet_utc_s: 100, held_until_utc_s: 700 };
    const words = whyWords(held);
    expect(words).toMatch(/^Not so since \d\d:\d\d:40\. Current was above 3\.0\u00a0A\. It came 5 times since \d\d:01, and was so for 47\.2\u00a0s in all\. It stands until it was quiet for 10\u00a0min, at \d\d:11\.$/);
    expect(whyWords({ ...OVER, ended_utc_s: 3 })).toBe("Current is above 3.0\u00a0A.");
  });

  it("says how it stands: since when, acknowledged, ended", () => {
    const seen = { at_utc_s: 5, note: "", by: "phone" };
    expect(standWords(ALARM)).toMatch(/^since \d\d:\d\d:00$/);
    expect(standWords({ ...ALARM, acknowledged: seen })).toMatch(/^acknowledged .*:05$/);
    expect(standWords({ ...ALARM, acknowledged: seen, ended_utc_s: 9 })).toMatch(/^ended .*:09$/);
  });

  it("interrupts for an alarm that nobody has seen, not for a caution or one that is over", () => {
    const all = (alarm: Alarm) => ({ standing: [alarm], more: 0, trouble: "" });
    expect(spoken(all(ALARM), "heron-1")).toBe("Alarm. Switch off. The motor is stalled.");
    for (const quiet of [{ ...ALARM, rank: "caution" as const }, { ...ALARM, ended_utc_s: 1 }, { ...ALARM, quiet_utc_s: 1, held_until_utc_s: 601 }, { ...ALARM, acknowledged: { at_utc_s: 1, note: "", by: "" } }]) {
      expect(spoken(all(quiet), "heron-1")).toBe("");
      expect(calls(quiet)).toBe(false);
    }
  });

  it("stands framed beside its rig once it has ended, not filled like one that is so", () => {
    const of = (rank: "alarm" | "caution") => ({ standing: [{ ...ALARM, rank, ended_utc_s: 9 }], more: 0, trouble: "" });
    const rig = { name: "heron-1", rank: 1, tag: "stalled, ended" };
    expect([tagKind(rig, of("alarm")), tagKind(rig, of("caution"))]).toEqual(["alarm over", "caution over"]);
    expect(tagKind({ ...rig, tag: "stalled, not so now" }, of("alarm"))).toBe("alarm over");
    expect(tagKind({ ...rig, rank: 2, tag: "stalled" }, of("alarm"))).toBe("alarm");
    expect([tagKind({ ...rig, tag: "demo motor ended" }, of("alarm")), tagKind({ ...rig, rank: 0, tag: "" }, of("alarm"))]).toEqual(["caution", ""]);
  });

  it("stands for its rig while it is so", () => {
    const all = { standing: [ALARM], more: 0, trouble: "" };
    expect([stands(all, "heron-1", "stalled"), stands(all, "heron-2", "stalled"), stands(all, "heron-1", "over")]).toEqual([true, false, false]);
  });
});

describe("an alarm that is set", () => {
  const kinds = { events: { gap: "samples are missing" }, verdicts: { phase_open: "a phase carries no current" } };
  const limit = alarmFields("limit", [["current_rms_a", "Current"]], kinds);

  it("goes to the service without what was left empty, numbers as numbers", () => {
    const given = { name: "too much", act: " Switch off ", rank: "alarm", reading: "current_rms_a", low: "", high: "3,5", return_gap: "", hold_s: "", state: "" };
    expect(alarmChange(given, limit)).toEqual({ act: "Switch off", rank: "alarm", reading: "current_rms_a", high: 3.5 });
  });

  it("comes back into its fields as it was", () => {
    const its: AlarmSettings = {
      rank: "caution", act: "Look", reading: "current_rms_a", low: null, high: 3.5, return_gap: 0.1, hold_s: null, state: "running",
      event: "", verdict: "", no_samples_s: null, drift: "", least_percent: null, trip_class: "",
    };
    expect(causeOf(its)).toBe("limit");
    expect(alarmGiven("too much", its, limit)).toMatchObject({ name: "too much", rank: "caution", high: "3.5", low: "", state: "running", hold_s: "" });
    expect(causeOf({ ...its, reading: "", event: "gap" })).toBe("event");
    expect(causeOf({ ...its, reading: "", no_samples_s: 30 })).toBe("silence");
  });

  it("asks for the trip class of an overload alone, which is 10 where none is said", () => {
    const fields = readyFields("overloaded");
    expect(alarmGiven("overloaded", null, fields)["trip_class"]).toBe("10");
    expect(alarmGiven("overloaded", { trip_class: "10A" } as AlarmSettings, fields)["trip_class"]).toBe("10A");
    expect(alarmChange({ act: "", rank: "alarm", trip_class: "20" }, fields)).toEqual({ rank: "alarm", trip_class: "20" });
    expect(readyFields("stalled").map(({ key }) => key)).toEqual(["act", "rank", "hold_s"]);
  });
});
