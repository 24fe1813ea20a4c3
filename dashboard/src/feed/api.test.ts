import { expect, it } from "vitest";
import { rigName } from "./api";

it("names a rig after its port, with letters that a file name may have", () => {
  expect(rigName("/dev/ttyACM0", [])).toBe("ttyacm0");
  expect(rigName("socket://127.0.0.1:7000", [])).toBe("board-127-0-0-1-7000");
  expect(rigName("/dev/pts/4", [])).toBe("board-4");
  expect(rigName("COM3", [])).toBe("com3");
  expect(rigName("///", [])).toBe("board");
});

it("gives no name twice", () => {
  expect(rigName("/dev/ttyACM0", ["ttyacm0"])).toBe("ttyacm0-2");
  expect(rigName("/dev/ttyACM0", ["ttyacm0", "ttyacm0-2"])).toBe("ttyacm0-3");
});

it("gives no name longer than 40 letters, however long the port is called", () => {
  const port = `/dev/serial/by-id/usb-${"x".repeat(60)}-if00`;
  expect(rigName(port, [])).toHaveLength(40);
  expect(rigName(port, [rigName(port, [])])).toMatch(/^usb-x+-2$/);
});
