import { afterEach, expect, it, vi } from "vitest";
import type { Strip } from "../core/picture";
import { Store } from "../core/store";
import { testPicture } from "../core/testing";
import { Feed, withStrip } from "./socket";

const strip = { start_utc_s: 900 } as Strip;

it("keeps the strip of a picture that a newer one pushed out before it was drawn", () => {
  expect(withStrip(testPicture({ number: 2 }), testPicture({ number: 1, strip }))).toMatchObject({ number: 2, strip });
  expect(withStrip(testPicture({ number: 2 }), undefined).strip).toBeNull();
});

it("prefers a newer strip, and takes none from another rig", () => {
  const newer = { start_utc_s: 950 } as Strip;
  expect(withStrip(testPicture({ strip: newer }), testPicture({ strip })).strip).toBe(newer);
  expect(withStrip(testPicture({ rig: "heron-2" }), testPicture({ strip })).strip).toBeNull();
});

/** A socket that opens when the test says so. */
class Opening {
  static readonly OPEN = 1;
  static made: Opening[] = [];
  readyState = 0;
  readonly sent: unknown[] = [];
  onopen: () => void = () => undefined;

  constructor(readonly url: URL) {
    Opening.made.push(this);
  }

  opens(): void {
    this.readyState = Opening.OPEN;
    this.onopen();
  }

  send(message: string): void {
    if (this.readyState !== Opening.OPEN) throw new Error("it is not open yet");
    this.sent.push(JSON.parse(message));
  }

  close(): void {
    this.readyState = 3;
  }
}

afterEach(() => vi.unstubAllGlobals());

it("asks for the rig that was chosen while it connected, once it is open, and for none where nobody chose", () => {
  const address = vi.fn();
  Opening.made = [];
  vi.stubGlobal("WebSocket", Opening);
  vi.stubGlobal("document", { hidden: false, addEventListener: () => undefined });
  vi.stubGlobal("location", { href: "http://127.0.0.1:8420/?rig=heron-1#watch", protocol: "http:" });
  vi.stubGlobal("history", { replaceState: address });
  const feed = new Feed(new Store(), (job) => job(), "heron-1");

  feed.open();
  feed.select("heron-3");
  feed.select("heron-2");
  const [first] = Opening.made;
  expect(first!.url.href).toBe("ws://127.0.0.1:8420/live?rig=heron-1");
  first!.opens();
  expect(first!.sent).toEqual([{ rig: "heron-2" }]);
  expect((address.mock.lastCall as unknown[])[2]).toHaveProperty("search", "?rig=heron-2");

  feed.open(); // again: by its address this time
  const again = Opening.made[1]!;
  expect(again.url.search).toBe("?rig=heron-2");
  again.opens();
  expect(again.sent).toEqual([]);
  first!.opens(); // one that was given up says nothing
  expect(first!.sent).toHaveLength(1);
});
