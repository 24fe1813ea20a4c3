import { describe, expect, it } from "vitest";
import { cautions } from "./cautions";
import { clock } from "./format";
import type { ConnectionState, Picture } from "./picture";
import { TEST_PLAYING, testLine, testPicture } from "./testing";

function connected(state: ConnectionState, more: Partial<Picture["connection"]> = {}): Picture {
  const picture = testPicture({});
  return { ...picture, connection: { ...picture.connection, state, ...more } };
}

const keys = (picture: Picture, silence_s = 0): string[] => cautions(picture, silence_s, null).map(({ key }) => key);

describe("the alarm line", () => {
  it("says nothing while all is well", () => {
    expect(cautions(testPicture({}), 0, null)).toEqual([]);
  });

  it("says how old a stale picture is by now", () => {
    const picture = { ...connected("stale"), sample_utc_s: 998 };
    expect(cautions(picture, 0.4, null)[0]!.bold).toBe("Picture is 2.4\u00a0s old.");
  });

  it("says that the motor may still be running when the wire is lost", () => {
    const [caution] = cautions(connected("disconnected", { since_utc_s: 950 }), 0, null);
    expect(caution).toMatchObject({ bold: `Wire lost at ${clock(950)}.`, rest: "The motor may still be running." });
  });

  it("tells what was concluded of the motor in its one line, as its card stands where it moves nothing", () => {
    const picture = { ...connected("live"), verdicts: [{ key: "phase_open", answer: "Phase W carries no current: its lead is off." }] } as unknown as Picture;
    expect(cautions(picture, 0, null)[0]).toMatchObject({ key: "concluded", bold: "Phase W carries no current." });
  });

  it.each(["refused", "settings_refused"] as const)("says what follows where it was %s; why stands elsewhere", (state) => {
    const picture = connected(state, { text: "no permission to open /dev/ttyUSB0", detail: "Join the group dialout." });
    expect(cautions(picture, 0, null)).toEqual([{ key: "refused", bold: "heron-1 is not watched.", rest: "Its motor may be running." }]);
  });

  it("says since when a demo motor shows its last picture, if there is one", () => {
    const picture = connected("ended", { since_utc_s: 950, text: "The software board was killed." });
    expect(cautions(picture, 0, null)).toEqual([]);
    const board = { serial: "HB-0001", instead_of: "" } as NonNullable<Picture["board"]>;
    expect(cautions({ ...picture, board }, 0, null)[0]!.bold).toBe(`The demo motor ended at ${clock(950)}.`);
  });

  it("says that a motor is stalled and what comes first, while it is so", () => {
    const stalled = { value: "stalled", confidence: "good", reason: "", at_utc_s: 1000, aged: "" } as const;
    const [caution] = cautions(testPicture({ readings: { run_state: stalled } }), 0, null);
    expect(caution).toMatchObject({ bold: "Stalled.", rest: expect.stringContaining("switch off first") });
    expect(keys(testPicture({ readings: { run_state: { ...stalled, aged: "stale" } } }))).toEqual([]);
  });

  it("tells a current above the plate once the motor has run for a while", () => {
    const reading = { confidence: "good", reason: "", at_utc_s: 1000, aged: "" } as const;
    const drawing = (current_a: number, more: Partial<Picture> = {}): Picture =>
      testPicture({ readings: { run_state: { value: "running", ...reading }, current_rms_a: { value: current_a, ...reading } }, ...more });
    expect(cautions(drawing(1.31), 0, null)[0]!.bold).toBe("Current is 238\u00a0% of the plate.");
    expect(keys(drawing(0.58))).toEqual([]); // 105 %: within what plates and sensors can tell
    expect(keys(drawing(1.31, { state_since_utc_s: 999 }))).toEqual([]);
  });

  it("names another rig's trouble last, never its own twice", () => {
    const rig = { name: "bench", motor: "", demo_motor: "", demo_story: "", demo_pace: 1, playing: "", state: "unknown", connection: "refused", rank: 1, tag: "refused" } as const;
    const damage = { ...testPicture({}).damage, last_text: "6 frames lost", last_utc_s: 995 };
    const found = cautions(testPicture({ rigs: [rig, { ...rig, name: "heron-1", tag: "stalled" }], damage }), 0, null);
    expect(found.map(({ bold }) => bold)).toEqual(["6\u00a0frames lost", "bench: refused."]);
  });

  it("names what is clipped and at which range", () => {
    const clipped = testLine({ role: "current", place: "line", unit: "A", range: [-27.85, 27.85], clipped: true });
    const picture = testPicture({ trace: { ...testPicture({}).trace!, lines: [clipped] } });
    expect(cautions(picture, 0, null)[0]!.bold).toBe("Current is clipped at ±27.9\u00a0A.");
  });

  it("keeps lost samples for ten seconds, then lets them go", () => {
    const damage = { ...testPicture({}).damage, last_text: "6 frames lost", last_utc_s: 995 };
    expect(keys(testPicture({ damage }))).toEqual(["lost"]);
    expect(keys(testPicture({ damage, now_utc_s: 1006 }))).toEqual([]);
  });

  it("says how much is missing from the picture", () => {
    const damage = { ...testPicture({}).damage, last_text: "6 frames", last_utc_s: 999 };
    const trace = { ...testPicture({}).trace!, gaps: [[0.031, 0.044]] as const };
    expect(cautions(testPicture({ damage, trace }), 0, null)[0]!.bold).toBe("13\u00a0ms of samples lost");
  });

  it("tells below an hour for how long the disk has room, and what to do", () => {
    const left = (room_s: number | null): string => {
      const found = cautions(testPicture({ recording: { ...testPicture({}).recording, room_s } }), 0, null);
      return found.find(({ key }) => key === "nearly_full")?.bold ?? "";
    };
    expect(left(2530)).toBe("The disk has room for 42\u00a0min.");
    expect(left(3600)).toBe("");
    expect(left(null)).toBe("");
  });

  it("puts the broken wire before lesser things", () => {
    const damage = { ...testPicture({}).damage, last_text: "6 frames lost", last_utc_s: 999 };
    const recording = { ...testPicture({}).recording, state: "failed", reason: "the disk refused" } as const;
    expect(keys({ ...connected("disconnected"), damage, recording })).toEqual(["disconnected", "recording", "lost"]);
  });

  it("promises nothing when the service is gone, whatever the last picture said", () => {
    const found = cautions(connected("disconnected"), 3, 997);
    expect(found.map(({ key }) => key)).toEqual(["service"]);
    expect(found[0]!.rest).toContain("not known");
  });

  it("notices a service that is connected and silent", () => {
    expect(keys(testPicture({}), 1.5)).toEqual(["silent"]);
    expect(keys(testPicture({}), 0.9)).toEqual([]);
  });
});

it("says nothing of a run that is played, and still what is the matter with another rig now", () => {
  const stalled = testPicture({});
  const readings = { ...stalled.readings, run_state: { ...stalled.readings["run_state"]!, value: "stalled" } };
  expect(keys({ ...stalled, readings })).toContain("stalled");
  expect(keys({ ...stalled, readings, playing: TEST_PLAYING })).toEqual([]);
  const refused = { name: "bench", motor: "", demo_motor: "", demo_story: "", demo_pace: 1, playing: "", state: "unknown", connection: "refused", rank: 1, tag: "refused" } as const;
  expect(keys({ ...stalled, readings, playing: TEST_PLAYING, rigs: [refused] })).toEqual(["rig bench"]);
});
