/** Which stretch of a night is looked at, and its axis. */
import { afterEach, expect, it, vi } from "vitest";
import { type Hole, columnAt, growingWindow, isAwaited, isBlank, isElsewhere, isNearest, liveWindow, panned, pauseOf, spells, timeTicks, within, zoomed } from "./night";
import { bothOf } from "./night_readings";

const NOON = Date.UTC(2026, 10, 26, 12) / 1000;
const whole = { from_utc_s: NOON - 43_200, to_utc_s: NOON };

afterEach(() => void vi.unstubAllEnvs());

it("keeps a live axis still while the newest minutes come, and always has room for them", () => {
  const first = liveWindow(NOON + 61, 43_200);
  expect(liveWindow(NOON + 200, 43_200)).toEqual(first);
  expect(first).toEqual({ from_utc_s: NOON - 43_200, to_utc_s: NOON + 600 }); // all of the twelve hours, and a little ahead
  for (let at = NOON; at < NOON + 1500; at += 7) expect(liveWindow(at, 43_200).to_utc_s).toBeGreaterThanOrEqual(at);
});

it("lets the axis of a run that is recorded grow by few steps, with little room ahead", () => {
  const ends = new Set(Array.from({ length: 3600 }, (_, s) => growingWindow(NOON, NOON + 7200 + s).to_utc_s));
  expect(ends.size).toBeLessThan(40);
  expect(growingWindow(NOON, NOON + 36_000).to_utc_s).toBeLessThan(NOON + 36_000 * 1.03);
  expect(growingWindow(NOON, NOON).to_utc_s).toBeGreaterThan(NOON);
});

it("zooms around a moment, stays within the whole and goes no nearer than is worth a look", () => {
  const near = zoomed(whole, whole, NOON - 10_000, true);
  expect(near.to_utc_s - near.from_utc_s).toBeCloseTo(21_600);
  expect((NOON - 10_000 - near.from_utc_s) / 21_600).toBeCloseTo(33_200 / 43_200);
  expect(zoomed(near, whole, NOON - 10_000, false)).toEqual(whole);
  expect(within({ from_utc_s: NOON - 5, to_utc_s: NOON - 4 }, whole)).toEqual({ from_utc_s: NOON - 20, to_utc_s: NOON });
  expect([whole, within({ from_utc_s: NOON - 5, to_utc_s: NOON - 4 }, whole)].map(isNearest)).toEqual([false, true]);
  expect(panned({ from_utc_s: NOON - 100, to_utc_s: NOON }, whole, 0.5)).toEqual({ from_utc_s: NOON - 100, to_utc_s: NOON });
});

it("asks for the newest once a column, at least once a minute and no faster than every two seconds", () => {
  expect(pauseOf(whole, 1200)).toBe(36);
  expect(pauseOf(whole, 100)).toBe(60);
  expect(pauseOf({ from_utc_s: 0, to_utc_s: 60 }, 1200)).toBe(2);
});

it("is drawn elsewhere only where it begins more than two columns away", () => {
  const drawn = { from_utc_s: NOON - 60, to_utc_s: NOON, columns: 60 };
  expect([NOON - 59.4, NOON - 61.6, NOON - 57, NOON - 90].map((from_utc_s) => isElsewhere(drawn, { from_utc_s, to_utc_s: NOON }))).toEqual([false, false, true, true]);
});

it("puts ticks on round local times and tells midnight by its day", () => {
  vi.stubEnv("TZ", "Europe/Berlin");
  const ticks = timeTicks({ from_utc_s: NOON - 16 * 3600, to_utc_s: NOON - 3 * 3600 }, 8);
  expect(ticks.map(({ words }) => words)).toEqual(["22:00", "26\u00a0Nov, 00:00", "02:00", "04:00", "06:00", "08:00", "10:00"]);
  expect(ticks.filter(({ day }) => day)).toHaveLength(1);
});

it("tells two hours of one name apart in the night in which clocks go back", () => {
  vi.stubEnv("TZ", "Europe/Berlin");
  const midnight = Date.UTC(2026, 9, 24, 22) / 1000; // 25 October 2026, 00:00; clocks go back at 03:00 (Directive 2000/84/EC)
  const words = timeTicks({ from_utc_s: midnight, to_utc_s: midnight + 5 * 3600 }, 6).map((tick) => tick.words);
  expect(words).toContain("02:00 +2\u00a0h");
  expect(words).toContain("02:00 +1\u00a0h");
  expect(new Set(words).size).toBe(words.length);
});

it.each([[1, 20], [10, 60], [60, 1200], [3600, 43_200], [43_200, 604_800], [604_800, 2_419_200]])("never draws more ticks than there is room for (%s s)", (_, span_s) => {
  expect(timeTicks({ from_utc_s: NOON - span_s, to_utc_s: NOON }, 12).length).toBeLessThanOrEqual(13);
});

it("finds the column of a moment", () => {
  const grid = { from_utc_s: 100, to_utc_s: 200, columns: 50 };
  expect([columnAt(grid, 99), columnAt(grid, 100), columnAt(grid, 199.9), columnAt(grid, 200)]).toEqual([-1, 0, 49, -1]);
});

it("tells a stretch without recording, whose readings stay those of the others", () => {
  expect(isBlank({ runs: [{ run: "a", from_utc_s: null, to_utc_s: null, trouble: "" }] })).toBe(true);
  expect(isBlank({ runs: [{ run: "a", from_utc_s: 10, to_utc_s: 80, trouble: "" }, { run: "b", from_utc_s: null, to_utc_s: null, trouble: "" }] })).toBe(false);
  expect(bothOf(["speed_rpm"], [])).toEqual(["speed_rpm"]);
  expect(bothOf(bothOf(null, ["speed_rpm"]), ["current_rms_a", "speed_rpm"])).toEqual(["speed_rpm", "current_rms_a"]);
});

it("cuts run states out where nothing was recorded and says nothing behind the last run", () => {
  const holes: Hole[] = [{ from_utc_s: 30, to_utc_s: 40, reason: "cable out" }];
  const runs = [{ run: "a", from_utc_s: 10, to_utc_s: 80, trouble: "" }];
  const found = spells({ states: [[12, "running"], [60, "resting"]], runs, from_utc_s: 0, to_utc_s: 100 }, holes);
  expect(found.map(({ state, from_utc_s, to_utc_s }) => [state, from_utc_s, to_utc_s])).toEqual([
    ["unknown", 10, 12], ["running", 12, 30], ["running", 40, 60], ["resting", 60, 80],
  ]);
});

it("takes a run that was left open and is answered up to now for one that is awaited", () => {
  const open = { closed_utc_s: null, recording: false };
  expect([isAwaited(open, { to_utc_s: 990 }, 1000), isAwaited(open, { to_utc_s: 400 }, 1000)]).toEqual([true, false]);
  expect([isAwaited({ ...open, closed_utc_s: 980 }, { to_utc_s: 990 }, 1000), isAwaited({ ...open, recording: true }, { to_utc_s: 990 }, 1000)]).toEqual([false, false]);
});
