import { describe, expect, it } from "vitest";
import { type Cycle, type Cycles, type Figure, countWords, figureWords, rowsOf, usageWords } from "./cycles";

const known = (value: number, u95: number | null = null): Figure => ({ value, u95, bound: "", reason: "" });
const unknown = (reason: string): Figure => ({ value: null, u95: null, bound: "", reason });
const cycle = (number: number, start_s: Figure, more: Partial<Cycle> = {}): Cycle => ({
  number, utc_s: 1000 + 8 * number, begun: "seen", ended: true, doubts: [], figures: { starting_time_s: start_s, steady_speed_rpm: known(1380), on_time_s: known(4) }, ...more,
});
const RUN: Cycles = {
  run: "r", starts: 3, on_s: 12, hidden_s: 0, cycles_whole: 2, drifts: [], missing: [],
  duty_factor_percent: known(50, 0.6), starts_per_hour: known(450, 3), duty_type: { name: "", words: "", missing: [] },
  kinds: [
    { key: "starting_time_s", label: "starting time", unit: "s", digits: 2, definition: "until 95 %" },
    { key: "steady_speed_rpm", label: "steady speed", unit: "r/min", digits: 0, definition: "" },
  ],
  cycles: [cycle(1, known(0.48)), cycle(2, known(0.52, 0.011)), cycle(3, unknown("it has not run up yet"), { ended: false })],
};

describe("a figure of a cycle", () => {
  it("ends where its uncertainty ends, says a bound and is a dash where it is not known", () => {
    expect(figureWords(known(0.5234, 0.011), "s", 2)).toBe("0.523 ±\u20090.011\u00a0s");
    expect(figureWords(known(0.5234), "s", 2)).toBe("0.52\u00a0s");
    expect(figureWords({ ...known(0.4), bound: "at least" }, "s", 2)).toBe("at least 0.40\u00a0s");
    expect(figureWords(unknown("a gap"), "s", 2)).toBe("–");
  });
});

describe("the table of cycles", () => {
  it("shows the newest that ended and the range of all; drift is told of ten cycles at least", () => {
    const [start] = rowsOf(RUN, "r/min");
    expect(start).toMatchObject({ name: "Starting time", newest: "0.520 ±\u20090.011\u00a0s", range: "0.480 to 0.520\u00a0s", drift: "", chance: "drift is told from 10\u00a0such cycles on" });
  });

  it("says why a figure of the one under way is not known yet, where none has ended", () => {
    const [start] = rowsOf({ ...RUN, cycles: RUN.cycles.slice(2) }, "r/min");
    expect(start).toMatchObject({ newest: "–", reason: "it has not run up yet", range: "–" });
  });

  it("leaves bounds out of the range", () => {
    const bound = cycle(3, { ...known(0.1), bound: "at least" });
    expect(rowsOf({ ...RUN, cycles: [...RUN.cycles, bound] }, "r/min")[0]!.range).toBe("0.48 to 0.52\u00a0s");
  });

  it("shows speeds in the unit of the rig", () => {
    expect(rowsOf(RUN, "rad/s")[1]!.newest).toBe("144.5\u00a0rad/s");
  });

  it("tells a drift that is significant with its interval and its chance, and one that is not as none", () => {
    const drift = { key: "starting_time_s", unit: "s", per_cycle: 0.00031, low95: 0.00021, high95: 0.00042, chance: 0.0004, cycles: 27, significant: true };
    expect(rowsOf({ ...RUN, drifts: [drift] }, "r/min")[0]).toMatchObject({
      drifts: true, drift: "+0.31\u00a0ms a cycle (0.21 to 0.42\u00a0ms)", chance: "by chance in less than 0.1\u00a0% of cases, 27\u00a0cycles",
    });
    const none = { ...drift, low95: -0.0001, chance: 0.34, significant: false };
    expect(rowsOf({ ...RUN, drifts: [none] }, "r/min")[0]).toMatchObject({ drifts: false, drift: "no drift seen (\u22120.10 to 0.42\u00a0ms)", chance: "by chance in 34\u00a0% of cases, 27\u00a0cycles" });
  });
});

describe("how a motor was used", () => {
  it("counts the cycle under way as a start, not one that was on when it was first looked at", () => {
    expect(countWords(RUN)).toBe("3 starts, on for 12\u00a0s; the last cycle is under way.");
    expect(countWords({ ...RUN, starts: 2, hidden_s: 5, cycles: [cycle(1, known(1), { ended: false, begun: "before" })] })).toBe("2 starts, on for 12\u00a0s; the last cycle is under way. In 5\u00a0s without samples more may have happened.");
    expect(countWords({ ...RUN, missing: ["Its part before the last start of the service is read when it is closed."] })).toContain("under way. Its part before");
  });

  it("says the duration factor, or why it is not known", () => {
    expect(usageWords(RUN)).toBe("Cyclic duration factor 50.0 ±\u20090.6\u00a0%, 450 ±\u20093\u00a0starts per hour, of 2\u00a0cycles known whole.");
    expect(usageWords({ ...RUN, duty_factor_percent: unknown("no cycle is known whole") })).toBe("Cyclic duration factor and starts per hour are not known: no cycle is known whole.");
  });
});
