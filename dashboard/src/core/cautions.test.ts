import { describe, expect, it } from "vitest";
import { cautions } from "./cautions";
import { clock } from "./format";
import type { ConnectionState, Picture } from "./picture";
import { testLine, testPicture } from "./testing";

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

  it("says what was refused and what to do", () => {
    const picture = connected("refused", { text: "no permission to open /dev/ttyUSB0", detail: "Join the group dialout." });
    expect(cautions(picture, 0, null)[0]).toMatchObject({ bold: "No permission to open /dev/ttyUSB0.", rest: "Join the group dialout." });
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
