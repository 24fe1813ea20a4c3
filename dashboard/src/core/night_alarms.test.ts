/** Changes of alarms become lives. */
import { expect, it } from "vitest";
import { acknowledgedWords, countWords, farSide, howLong, labelWords, lives, waits } from "./night_alarms";
import type { Standing, Told } from "./night_alarms";

const told = (kind: string, at_utc_s: number, more: Partial<Told> = {}): Told => ({
  number: at_utc_s, rig: "heron-2", id: "a-1", kind, rank: "alarm", at_utc_s, act: "Switch off", why: "Current above 5.0 A.", reading: "current_mean_a", value: "5.8 A", limit: "5.0 A", note: "", by: "", more: 0, ...more,
});
const standing: Standing = { ...told("", 0, { id: "a-2", rank: "caution" }), raised_utc_s: 50, acknowledged: null, ended_utc_s: null };
const NIGHT = { from_utc_s: 0, to_utc_s: 100 };

it("folds raised, ended and acknowledged into one, the newest first", () => {
  const [first, second] = lives({ alarms: [standing], told: [told("acknowledged", 30, { note: "found a leaf" }), told("ended", 12), told("raised", 10)], trouble: "" }, [], NIGHT);
  expect([first!.id, first!.standing, waits(first!)]).toEqual(["a-2", true, true]);
  expect(second).toMatchObject({ id: "a-1", raised_utc_s: 10, ended_utc_s: 12, acknowledged: { note: "found a leaf" }, standing: false });
  expect(countWords([first!, second!])).toBe("2, one not acknowledged");
  expect(howLong(second!, 100, "highest 5.80 A")).toBe("2.0\u00a0s, ended by itself; highest 5.80 A");
  expect(acknowledgedWords(second!)).toMatch(/^acknowledged \d\d:\d\d, \u201cfound a leaf\u201d$/);
  const [moment] = lives({ alarms: [], told: [told("acknowledged", 12), told("ended", 12, { number: 13 }), told("raised", 10)], trouble: "" }, [], NIGHT);
  expect(howLong(moment!, 100, "")).toBe("2.0\u00a0s, ended as it was acknowledged");
});

it("says of one that keeps coming how often it came and how long it was so, not how long it was held", () => {
  const changes = [told("raised", 60, { more: 2, first_utc_s: 10, so_s: 30 }), told("again", 70, { more: 3, first_utc_s: 10, so_s: 40 }), told("ended", 90, { more: 4, first_utc_s: 10, so_s: 47, why: "Current was above." })];
  const [only] = lives({ alarms: [], told: changes, trouble: "" }, [], NIGHT);
  expect(only!.why).toBe("Current was above.");
  expect(howLong(only!, 100, "")).toMatch(/^it came 5 times since \d\d:00, and was so for 47\.0\u00a0s in all; ended \d\d:01 by itself$/);
  expect(labelWords({ ...only!, limit: "above 5.0\u00a0A" })).toBe("above 5.0\u00a0A for 47.0\u00a0s");
  expect(labelWords({ ...only!, so_s: 0 })).toBe("5.0 A");
  const held = { ...standing, standing: true, stood: [], more: 4, first_utc_s: 10, so_s: 47, quiet_utc_s: 100, held_until_utc_s: 700 };
  expect(howLong(held, 110, "")).toMatch(/in all; not so since \d\d:01, held until \d\d:11$/);
  expect([labelWords(held), labelWords({ ...standing, standing: true, stood: [] })]).toEqual(["5.0 A for 47.0\u00a0s", expect.stringMatching(/^5\.0 A since \d\d:00$/)]);
  expect(labelWords({ ...standing, standing: true, stood: [], limit: "" })).toMatch(/^caution since \d\d:00$/);
});

it("tells what was folded into one as one, with one total, and keeps when each stood", () => {
  const fold = { first_id: "a-1", first_utc_s: 10 };
  const changes = [told("raised", 10), told("ended", 12, { so_s: 1.2 }), told("raised", 30, { id: "a-2", more: 1, ...fold }), told("ended", 34, { id: "a-2", more: 1, so_s: 4, ...fold })];
  const stands = { ...standing, id: "a-3", more: 5, so_s: 27.6, raised_utc_s: 50, ...fold };
  const [only, ...others] = lives({ alarms: [stands], told: changes, trouble: "" }, [], NIGHT);
  expect([only!.id, others.length, countWords([only!])]).toEqual(["a-3", 0, "1, one not acknowledged"]);
  expect(howLong(only!, 110, "")).toMatch(/^it came 6 times since \d\d:00, and was so for 27\.6\u00a0s in all; still so$/);
  expect(only!.stood.map(({ raised_utc_s, ended_utc_s }) => [raised_utc_s, ended_utc_s])).toEqual([[50, null], [30, 34], [10, 12]]);
});

it("tells an alarm that stands by what stands, however much of its beginning is still told", () => {
  const [only] = lives({ alarms: [standing], told: [told("raised", 50, { id: "a-2" })], trouble: "" }, [], NIGHT);
  expect([only!.standing, only!.ended_utc_s]).toEqual([true, null]);
  expect(howLong(only!, 110, "")).toContain("still so");
});

it("leaves out what was over before and what came after, and claims no end that was not told", () => {
  const changes = [told("raised", 200, { id: "a-4" }), told("ended", -5, { id: "a-3" }), told("raised", -10, { id: "a-3" }), told("raised", 10)];
  const [only, ...others] = lives({ alarms: [], told: changes, trouble: "" }, [], NIGHT);
  expect([only!.id, others.length]).toEqual(["a-1", 0]);
  expect(howLong(only!, 100, "")).toBe("its end was not told");
});

it("lists what ended before and still stands where the service says that it is a part of the answer", () => {
  const ended = { ...standing, raised_utc_s: -50, ended_utc_s: -5 };
  const listed = [[], [told("raised", -50, { id: "a-2" })]].map((kept) => lives({ alarms: [ended], told: [], trouble: "" }, kept, NIGHT).map(({ id }) => id));
  expect(listed).toEqual([[], ["a-2"]]);
});

it("takes what is kept with the run and what the rig still tells as one", () => {
  const kept = [told("raised", 10), told("ended", 12)];
  const [only, ...others] = lives({ alarms: [], told: [told("acknowledged", 30), told("ended", 12)], trouble: "" }, kept, NIGHT);
  expect(others).toEqual([]);
  expect(only).toMatchObject({ raised_utc_s: 10, ended_utc_s: 12, acknowledged: { at_utc_s: 30 } });
});

it("says how far by the side on which the limit was passed", () => {
  expect(farSide({ value: "5.8 A", limit: "5.0 A" })).toBe("highest");
  expect(farSide({ value: "\u22123.2 V", limit: "\u22123 V" })).toBe("lowest");
  expect(farSide({ value: "3\u202f100 r/min", limit: "3\u202f000 r/min" })).toBe("highest");
  expect([farSide({ value: "5.8\u00a0A", limit: "above 5.0\u00a0A" }), farSide({ value: "1\u00a0V", limit: "below 3\u00a0V" })]).toEqual(["highest", "lowest"]);
  expect(farSide({ value: "", limit: "" })).toBe("");
});
