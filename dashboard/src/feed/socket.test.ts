import { expect, it } from "vitest";
import type { Strip } from "../core/picture";
import { testPicture } from "../core/testing";
import { withStrip } from "./socket";

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
