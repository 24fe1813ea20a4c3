/** The store and what it tells a screen reader, with the page's clock in the test's hand. */
import { effect } from "@preact/signals-core";
import { describe, expect, it } from "vitest";
import { SILENT, announce } from "./announce";
import type { Strip } from "./picture";
import { Store } from "./store";
import { TEST_PLAYING, testPicture } from "./testing";

const OPEN = { state: "open", lost_utc_s: null, retry_ms: null, what: "" } as const;

function opened(): Store {
  const store = new Store();
  store.setLink(OPEN, 0);
  return store;
}

it("shows after a played run the rig that was watched before, else the run\u2019s own, else what the service shows", () => {
  const rig = { name: "pump", motor: "", demo_motor: "", demo_story: "", demo_pace: 1, playing: "", state: "running", connection: "live", rank: 0, tag: "" } as const;
  const rigs = [rig, { ...rig, name: "heron-1" }, { ...rig, name: TEST_PLAYING.run, playing: TEST_PLAYING.run }];
  const played = { ...testPicture({}), rig: TEST_PLAYING.run, playing: TEST_PLAYING, rigs };
  const store = opened();
  store.commit(played, 0, 0);
  expect(store.afterPlaying("heron-1")).toBe("heron-1");
  store.commit({ ...testPicture({}), rig: "pump", rigs }, 33, 33);
  store.commit(played, 66, 66);
  expect(store.afterPlaying("heron-1")).toBe("pump");
  store.commit({ ...played, rigs: rigs.slice(2) }, 99, 99);
  expect(store.afterPlaying("heron-1")).toBe("");
});

const speed = (rpm: number): ReturnType<typeof testPicture> => {
  const picture = testPicture({});
  return { ...picture, readings: { ...picture.readings, speed_rpm: { ...picture.readings["speed_rpm"]!, value: rpm } } };
};
const farSpeed = (store: Store): unknown => store.calm.value?.readings["speed_rpm"]?.value;

describe("pace", () => {
  const told = (rpm: (ms: number) => number): Set<unknown> => {
    const store = opened();
    const seen = new Set<unknown>();
    for (let ms = 0; ms <= 2000; ms += 33) {
      store.commit(speed(rpm(ms)), ms, ms);
      seen.add(farSpeed(store));
      expect(store.shown.value!.readings["speed_rpm"]!.value).toBe(rpm(ms));
    }
    return seen;
  };

  it("changes numbers once a second while the motor only creeps, drawings at every picture", () => {
    expect(told((ms) => 1380 + ms / 100).size).toBe(2);
  });

  it("changes numbers twice a second at most while it starts", () => {
    const { size } = told((ms) => ms); // the first, and what comes in two seconds
    expect(size).toBeGreaterThanOrEqual(4);
    expect(size).toBeLessThanOrEqual(5);
  });

  it("lets the words follow the picture within a tenth of a second when power goes", () => {
    const store = opened();
    const on = testPicture({});
    for (let ms = 0; ms <= 330; ms += 33) store.commit(on, ms, ms);
    const off = { ...on, trace: { ...on.trace!, cycles: null, zero_voltage_s: null, zero_current_s: null } };
    for (let ms = 363; ms <= 430; ms += 33) store.commit(off, ms, ms);
    expect(store.calm.value!.trace!.zero_current_s).toBeNull();
  });

  it("shows another state at once", () => {
    const store = opened();
    store.commit(speed(1), 0, 0);
    const stalled = { ...speed(0), readings: { run_state: { value: "stalled", confidence: "good", reason: "", at_utc_s: 0, aged: "" } } } as const;
    store.commit(stalled, 33, 33);
    expect(store.calm.value!.readings["run_state"]!.value).toBe("stalled");
  });
});

describe("silence", () => {
  it("ages the numbers although nothing comes: stale after 1 s, a dash after 5 s", () => {
    const store = opened();
    store.commit(speed(1380), 0, 0);
    const agedAt = (ms: number): string => {
      store.tick(ms);
      return store.calm.value!.readings["speed_rpm"]!.aged;
    };
    expect([900, 2000, 5600].map(agedAt)).toEqual(["", "stale", "absent"]);
    expect(store.faint.value).toBe(true);
  });
});

describe("hold", () => {
  it("keeps the drawings and lets the far line go on", () => {
    const store = opened();
    store.commit(speed(1), 0, 0);
    store.toggleHold(0);
    store.commit(speed(2), 1000, 1000);
    expect(store.shown.value!.readings["speed_rpm"]!.value).toBe(1);
    expect(farSpeed(store)).toBe(2);
    store.toggleHold(1000);
    expect(store.shown.value!.readings["speed_rpm"]!.value).toBe(2);
  });

  it("ends when another rig is shown", () => {
    const store = opened();
    store.commit(speed(1), 0, 0);
    store.toggleHold(0);
    store.commit({ ...speed(2), rig: "heron-2" }, 33, 33);
    expect(store.held.value).toBeNull();
  });
});

it("tells a quantity to whoever asks without drawing him again at every picture", () => {
  const store = opened();
  store.hello.value = { kind: "hello", service: "", quantities: [{ key: "speed_rpm", symbol: "n", label: "speed", unit: "r/min", digits: 0 }] };
  store.commit(speed(1400), 0, 0);
  const units: unknown[] = [];
  const end = effect(() => { units.push(store.quantity("speed_rpm")?.unit); });
  store.commit(speed(1401), 33, 33);
  store.commit({ ...speed(1402), speed_unit: "rad/s" }, 66, 66);
  expect(units).toEqual(["r/min", "rad/s"]);
  end();
});

it("keeps the strip while none comes, and drops it with the rig", () => {
  const store = opened();
  const strip = { end_s: 3 } as Strip;
  store.commit({ ...speed(1), strip }, 0, 0);
  store.commit(speed(1), 33, 33);
  expect(store.strip.value).toBe(strip);
  store.commit({ ...speed(1), rig: "heron-2" }, 66, 66);
  expect(store.strip.value).toBeNull();
});

describe("what is said", () => {
  const event = (text: string, utc_s: number): object => ({ kind: "x", text, detail: "", decisive: false, utc_s });

  it("is nothing while a motor runs for an hour", () => {
    let told = announce(SILENT, testPicture({}), true, undefined, 0);
    const first = told.said;
    for (let s = 4; s < 3600; s += 4) told = announce(told, speed(1380 + (s % 3)), true, undefined, s * 1000);
    expect(told.said).toBe(first);
  });

  it("is news only: what happened before the page was opened is not told", () => {
    const picture = testPicture({ events: [event("Power on", 900)] as never });
    expect(announce(SILENT, picture, true, undefined, 0).said).toBe("Running.");
  });

  it("tells a caution once, however its words go on counting", () => {
    let told = announce(SILENT, testPicture({}), true, undefined, 0);
    const stale = (s: number): object => ({ key: "stale", bold: `Picture is ${s} s old.`, rest: "" });
    told = announce(told, testPicture({}), true, stale(2) as never, 4000);
    expect(told.said).toBe("Picture is 2 s old.");
    told = announce(told, testPicture({}), true, stale(9) as never, 11_000);
    expect(told.said).toBe("Picture is 2 s old.");
  });

  it("comes at most once in three seconds, the rest summed up, newest first", () => {
    let told = announce(SILENT, testPicture({}), true, undefined, 0);
    const events = [event("Start switch opened after 0.78 s", 1001), event("Power on", 1000.5)];
    told = announce(told, testPicture({ events: events as never }), true, undefined, 1000);
    expect(told.said).toBe("Running.");
    told = announce(told, testPicture({ events: events as never }), true, undefined, 3100);
    expect(told.said).toBe("Start switch opened after 0.78 s. Before that: Power on.");
  });
});

it("forgets the strip and the held picture of a run that is played when it goes to another place", () => {
  const store = opened();
  const strip = { start_utc_s: 900, wide: { t: [], speed: [], current: [] }, rest: { t: [], speed_low: [], speed_high: [] } } as unknown as Strip;
  store.commit(testPicture({ playing: TEST_PLAYING, strip }), 0, 0);
  store.toggleHold(0);
  store.commit(testPicture({ playing: { ...TEST_PLAYING, state: "paused" } }), 33, 33);
  expect([store.strip.value?.start_utc_s, store.held.value === null]).toEqual([900, false]);
  store.commit(testPicture({ playing: { ...TEST_PLAYING, jumps: 2 } }), 66, 66);
  expect([store.strip.value, store.held.value]).toEqual([null, null]);
});
