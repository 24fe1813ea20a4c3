/** 73.0 degrees at 50 Hz are 73/360 of 20 ms; positive is lagging (IEEE 1459, from memory). */
import { describe, expect, it } from "vitest";
import { clock } from "./format";
import type { ConnectionState, Picture, Recording } from "./picture";
import { TEST_PLAYING, testPicture } from "./testing";
import { calibrationWords, motorWords, phase, phaseWords, playingWords, recordingShort, recordingWords, roomWords, rigWords, stateContext, stateWord, traceWords } from "./words";

function withPhase(deg: number): Picture {
  const value = (v: number): object => ({ value: v, confidence: "good", reason: "", at_utc_s: 0, aged: "" });
  return testPicture({ readings: { phase_angle_deg: value(deg), frequency_hz: value(50), displacement_power_factor: value(0.292) } as never });
}

describe("phase in words", () => {
  it("lags when the angle of voltage minus current is positive", () => {
    const found = phase(withPhase(73))!;
    expect(found).toMatchObject({ word: "lagging", cos: "0.292" });
    expect(found.time).toBe("4.06\u00a0ms");
    expect(phaseWords(found, false)).toBe("current lags by 73.0° = 4.06\u00a0ms");
    expect(phaseWords(found, true)).toBe("lags 73.0°, 4.06\u00a0ms");
  });

  it("leads when it is negative, and never shows a negative angle with a word", () => {
    expect(phaseWords(phase(withPhase(-56.1))!, false)).toBe("current leads by 56.1° = 3.12\u00a0ms");
  });

  it("is in phase when the angle rounds to nothing", () => {
    expect(phaseWords(phase(withPhase(0.02))!, false)).toBe("current in phase with the voltage");
  });

  it("is absent without an angle", () => {
    expect(phase(testPicture({}))).toBeNull();
  });
});

describe("state word", () => {
  it("is the motor's state while the wire lives", () => {
    expect(stateWord(testPicture({}), true)).toBe("Running");
  });

  it.each([
    ["no_board", "No board yet"],
    ["connecting", "Asking the board"],
    ["refused", "Board refused"],
    ["settings_refused", "Settings refused"],
    ["no_rig", "No such rig"],
    ["disconnected", "Wire lost"],
    ["too_old", "No samples"],
    ["stale", "Running"],
  ] as const)("is what stands in the way: %s", (state, word) => {
    const picture = testPicture({});
    expect(stateWord({ ...picture, connection: { ...picture.connection, state } }, true)).toBe(word);
  });

  it("tells a demo motor that ended from one that never started or is about to", () => {
    const at = (state: ConnectionState, port: string, board: Picture["board"]): string => {
      const picture = testPicture({ board });
      return stateWord({ ...picture, connection: { ...picture.connection, state, port } }, true);
    };
    expect(at("connecting", "", null)).toBe("Demo motor starting");
    expect(at("ended", "", null)).toBe("Demo motor not started");
    expect(at("ended", "/dev/pts/9", {} as Picture["board"])).toBe("Demo motor ended");
  });

  it("promises nothing without the service", () => {
    expect(stateWord(testPicture({}), false)).toBe("No service");
  });

  it("is unknown when the state is absent", () => {
    const run_state = { value: null, confidence: "absent", reason: "the type of motor is not set", at_utc_s: null, aged: "" } as const;
    const picture = testPicture({ readings: { run_state } });
    expect(stateWord(picture, true)).toBe("Unknown");
    expect(stateContext(picture, true)).toBe("the type of motor is not set");
  });

  it("says how long, and how fast it started", () => {
    const picture = testPicture({ now_utc_s: 1000, state_since_utc_s: 158, context: { started_in_s: 1.057 } });
    expect(stateContext(picture, true)).toBe("for 14\u00a0min 02\u00a0s, started in 1.06\u00a0s");
  });
});

describe("recording in words", () => {
  const words = (more: Partial<Recording>): string =>
    recordingWords({ state: "recording", since_utc_s: 158, gap_since_utc_s: null, run: "", reason: "", gaps_s: 0, free_bytes: null, room_s: null, lost_utc_s: null, ...more }, 1000).join(" ");

  it("says how long, the gap, the end and the failure", () => {
    expect(words({})).toBe("recording 14\u00a0min 02\u00a0s");
    expect(words({ state: "gap", gap_since_utc_s: 990 })).toBe(`recording 13\u00a0min 52\u00a0s, gap since ${clock(990)}`);
    expect(words({ gaps_s: 60 })).toBe("recording 13\u00a0min 02\u00a0s");
    expect(words({ state: "closed" })).toBe(`run closed ${clock(158)}`);
    expect(words({ state: "failed", reason: "the disk refused to write" })).toContain("recording failed: the disk refused to write");
    expect(words({ state: "none" }).trim()).toBe("not recording");
    expect(words({ state: "failed", reason: "only 999 MB are free", free_bytes: 999e6 })).toBe("samples wait: 999\u00a0MB free");
    expect(words({ state: "failed", reason: "only 3 MB are free", free_bytes: 3.4e6, lost_utc_s: 990 })).toBe("readings only: 3.4\u00a0MB free");
  });

  it("says in two words or three whether it records, where there is no room for more", () => {
    const short = (state: Recording["state"], free_bytes: number | null = null, lost_utc_s: number | null = null): string => recordingShort({ state, free_bytes, lost_utc_s } as Recording);
    expect([short("recording"), short("gap"), short("closed"), short("none")]).toEqual(["recording", "recording, gap", "run closed", "not recording"]);
    expect([short("failed"), short("failed", 999e6), short("failed", 999e6, 990)]).toEqual(["recording failed", "samples wait", "readings only"]);
  });

  it("says for how long there is room in nights, hours and minutes, and never more than there is", () => {
    expect(roomWords(217_000)).toBe("room for 6 nights");
    expect(roomWords(71_999)).toBe("room for 19\u00a0h");
    expect(roomWords(7300)).toBe("room for 2\u00a0h");
    expect(roomWords(7100)).toBe("room for 118\u00a0min");
    expect(roomWords(59)).toBe("no room");
    expect(roomWords(4e9)).toBe("room for over 999 nights");
  });
});

it("writes motor and plate with the digits they were given with", () => {
  const plate = { voltage_v: 230, frequency_hz: 50, current_a: 0.55, pole_pairs: 2 };
  expect(motorWords({ name: "cabin ventilator", type: "permanent_split_capacitor", plate, plate_source: "board" })).toBe(
    "cabin ventilator, 230\u00a0V 50\u00a0Hz, 0.55\u00a0A, 4-pole",
  );
  expect(motorWords({ name: "", type: "brushless", plate: { voltage_v: 36, pole_pairs: 7 }, plate_source: "" })).toBe("brushless, 36\u00a0V, 7 pole pairs");
  expect(motorWords({ name: "", type: "brushless", plate: { pole_pairs: 1 }, plate_source: "" })).toBe("brushless, 1 pole pair");
});

it("says what the picture holds", () => {
  const trace = testPicture({}).trace!;
  expect(traceWords(trace)).toBe("last three cycles, 60\u00a0ms, held at the rising zero of the voltage");
  expect(traceWords({ ...trace, cycles: null, held_at: "", span_s: 0.077 })).toBe("last 77\u00a0ms");
});

it("says of a rig what it does, or what stands in the way of knowing it", () => {
  const rig = { name: "bench", motor: "slipway pump", demo_motor: "", demo_story: "", demo_pace: 1, playing: "", state: "running", connection: "live", rank: 0, tag: "" } as const;
  expect(rigWords(rig)).toBe("slipway pump, running");
  expect(rigWords({ ...rig, demo_story: "broken bar" })).toBe("slipway pump, broken bar, running");
  expect(rigWords({ ...rig, connection: "refused", rank: 1, tag: "PC too slow" })).toBe("slipway pump, PC too slow");
  expect(rigWords({ ...rig, connection: "disconnected" })).toBe("slipway pump, wire lost");
  expect(rigWords({ ...rig, motor: "", connection: "no_board" })).toBe("no board yet");
});

it.each([
  [{}, "playing", "26\u00a0Nov 14:05:16"],
  [{ pace: 0.1 }, "playing", "26\u00a0Nov 14:05:16, 10 times slower"],
  [{ pace: 100, reached: 34.4 }, "playing", "26\u00a0Nov 14:05:16, 34 times as fast, all that this PC can compute"],
  [{ pace: 10, state: "paused" }, "playing, paused at", "26\u00a0Nov 14:05:16"],
  [{ state: "ended" }, "played to its end,", "26\u00a0Nov 14:05:16"],
  [{ state: "seeking", sought_utc_s: new Date(2026, 10, 26, 14, 5, 42).getTime() / 1000 }, "on its way to", "26\u00a0Nov 14:05:42"],
] as const)("a run that is played, %o, says which moment is seen", (more, how, when) => {
  expect(playingWords({ ...TEST_PLAYING, ...more }, new Date(2026, 10, 26, 14, 5, 16).getTime() / 1000)).toEqual([how, when]);
});

it.each([
  [{}, "with the calibration of its time"],
  [{ calibrated: false }, "without calibration: it had none then"],
  [{ calibration: "today" }, "with today\u2019s calibration"],
  [{ calibration: "today", calibrated: false }, "without calibration: today\u2019s is of other channels"],
  [{ calibration: "none", calibrated: false }, "without calibration"],
] as const)("a run that is played, %o, says with which calibration", (more, words) => {
  expect(calibrationWords({ ...TEST_PLAYING, ...more })).toBe(words);
});
