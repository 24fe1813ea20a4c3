import { describe, expect, it } from "vitest";
import { type Receiver, calledWords, errorWords, lifeWords, sentWords, waitingWords } from "./receivers";

const HOOK: Receiver = {
  name: "workshop", kind: "webhook", place: "https://hooks.example.org", promise: "", everything: false, sign_of_life_min: 60,
  waiting: 0, waiting_since_utc_s: null, dropped: 0, sent_utc_s: null, error: "", error_utc_s: null, next_try_s: null,
};
const ARCHIVE = { ...HOOK, name: "archive", everything: true };
const NOBODY = { alarm: "", caution: "", quiet_from: "", quiet_to: "" };
const AT = new Date(2026, 10, 25, 14, 5).getTime() / 1000;

describe("whom a rig calls", () => {
  it("is everybody for an alarm that names nobody, and nobody for a caution", () => {
    expect(calledWords("bench", NOBODY, [HOOK, { ...HOOK, name: "watch" }])).toEqual(["Alarms of bench go to workshop and watch, cautions to nobody."]);
  });

  it("says when cautions wait", () => {
    const quiet = { ...NOBODY, quiet_from: "22:00", quiet_to: "06:00" };
    expect(calledWords("bench", quiet, [HOOK])[1]).toBe("Quiet hours from 22:00 to 06:00: cautions wait until they end, alarms never wait.");
  });

  it("always has those who get everything", () => {
    expect(calledWords("bench", { ...NOBODY, alarm: "workshop" }, [HOOK, ARCHIVE, { ...HOOK, name: "watch" }])).toEqual(["Alarms of bench go to workshop and archive, cautions to archive."]);
  });

  it("says of a name that no receiver has so, once, and alarms then go to all", () => {
    expect(calledWords("bench", { ...NOBODY, alarm: "wokshop", caution: "wokshop, workshop" }, [HOOK, ARCHIVE])).toEqual([
      "bench calls wokshop, and there is no such receiver.",
      "Alarms of bench go to workshop and archive, cautions to workshop and archive.",
    ]);
  });
});

describe("how it goes with a receiver", () => {
  it("says what waits and since when, and what was given up", () => {
    expect(waitingWords(HOOK, AT)).toBe("");
    expect(waitingWords({ ...HOOK, waiting: 1, waiting_since_utc_s: AT }, AT)).toBe("1 message waits since 25\u00a0Nov 14:05");
    expect(waitingWords({ ...HOOK, waiting: 3, waiting_since_utc_s: AT, dropped: 2 }, AT)).toBe("3 messages wait, the oldest since 25\u00a0Nov 14:05; 2 were given up: too many, too old, or refused");
  });

  it("says when it was last reached", () => {
    expect(sentWords(HOOK, AT)).toBe("not reached since the service started");
    expect(sentWords({ ...HOOK, sent_utc_s: AT }, AT)).toBe("last reached 25\u00a0Nov 14:05");
  });

  it("says why it failed in the service's words, and when it is tried again", () => {
    expect(errorWords(HOOK)).toBe("");
    expect(errorWords({ ...HOOK, error: "Nobody answers.", next_try_s: 12.2 })).toBe("Nobody answers. It is tried again in 13\u00a0s.");
    expect(errorWords({ ...HOOK, error: "Nobody answers.", next_try_s: 540 })).toBe("Nobody answers. It is tried again in 9\u00a0min.");
    expect(errorWords({ ...HOOK, error: "Nobody answers.", next_try_s: 0 })).toBe("Nobody answers. It is tried again now.");
  });

  it("says that silence says nothing where no sign of life is set up", () => {
    expect(lifeWords(HOOK)).toBe("a sign of life every 60\u00a0min");
    expect(lifeWords({ ...HOOK, sign_of_life_min: 0 })).toBe("no sign of life: silence says nothing");
  });
});
