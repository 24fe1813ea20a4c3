/** The message layout is that of server/live/SOCKET.md; the bytes are put together here by hand. */
import { describe, expect, it } from "vitest";
import type { Picture } from "./picture";
import { BadMessage, unpack } from "./unpack";

function message(header: object, floats: readonly number[], paddingTo = 4): ArrayBuffer {
  const json = new TextEncoder().encode(JSON.stringify(header));
  const floatsAt = Math.ceil((4 + json.length) / paddingTo) * paddingTo;
  const bytes = new ArrayBuffer(floatsAt + 4 * floats.length);
  const view = new DataView(bytes);
  view.setUint32(0, json.length, true);
  new Uint8Array(bytes).set(json, 4);
  floats.forEach((value, k) => view.setFloat32(floatsAt + 4 * k, value, true));
  return bytes;
}

const LINE = { role: "voltage", low: { at: 0, n: 2 }, high: { at: 2, n: 2 } };

describe("unpack", () => {
  it("gives a hello as it is", () => {
    expect(unpack(message({ kind: "hello", quantities: [], service: "0.1.0" }, []))).toEqual({ kind: "hello", quantities: [], service: "0.1.0" });
  });

  it("finds the arrays of a trace behind headers of every length", () => {
    for (const pad of ["", "x", "xx", "xxx", "φ"]) {
      const picture = unpack(message({ kind: "picture", pad, trace: { lines: [LINE], power: null }, strip: null }, [1, 2, 3, 4.5])) as Picture;
      expect([...picture.trace!.lines[0]!.low]).toEqual([1, 2]);
      expect([...picture.trace!.lines[0]!.high]).toEqual([3, 4.5]);
    }
  });

  it("copies nothing: the arrays are views on the message", () => {
    const bytes = message({ kind: "picture", trace: { lines: [LINE], power: null }, strip: null }, [1, 2, 3, 4]);
    expect((unpack(bytes) as Picture).trace!.lines[0]!.low.buffer).toBe(bytes);
  });

  it("finds power and strip, and keeps NaN as no value", () => {
    const array = (at: number): object => ({ at, n: 1 });
    const strip = {
      wide: { t: array(0), speed: array(1), current: array(2) },
      rest: { t: array(0), speed_low: array(1), speed_high: array(1), current_low: array(2), current_high: { at: 0, n: 0 } },
    };
    const trace = { lines: [], power: { low: array(1), high: array(2), mean: null, back_percent: null } };
    const picture = unpack(message({ kind: "picture", trace, strip }, [0.5, NaN, 7])) as Picture;
    expect(picture.strip!.wide.speed[0]).toBeNaN();
    expect(picture.trace!.power!.high[0]).toBe(7);
    expect(picture.strip!.rest.current_high).toHaveLength(0);
  });

  it.each([
    ["too short for a length", new ArrayBuffer(3)],
    ["a length beyond the end", new Uint32Array([400, 0]).buffer],
    ["no JSON", new Uint8Array([2, 0, 0, 0, 0xff, 0xfe, 0, 0]).buffer],
    ["an unknown kind", message({ kind: "film" }, [])],
    ["an array beyond the floats", message({ kind: "picture", trace: { lines: [LINE], power: null }, strip: null }, [1, 2, 3])],
    ["an array before the floats", message({ kind: "picture", trace: { lines: [{ low: { at: -1, n: 1 } }], power: null }, strip: null }, [1])],
  ])("refuses %s", (_, bytes) => {
    expect(() => unpack(bytes)).toThrow(BadMessage);
  });
});
