import { expect, it } from "vitest";
import { fingerprintLines, leftOf, mayWords, squarePath } from "./visitor";

it("says what a session may do", () => {
  expect(mayWords({ may: ["look", "mark", "change", "pc"] })).toBe("looks, marks and changes");
  expect(mayWords({ may: ["look", "mark"] })).toContain("with the consent of the PC");
});

it("counts a question down and never below nothing", () => {
  const question = { number: 1, device: "phone", act: "delete", left_s: 59.4 };
  const asked = { questions: [question], at_ms: 1000 };
  expect(leftOf(question, asked, 1000)).toBe(60);
  expect(leftOf(question, asked, 31_000)).toBe(30);
  expect(leftOf(question, asked, 90_000)).toBe(0);
});

it("breaks a fingerprint of 32 pairs into four lines of eight", () => {
  const pairs = Array.from({ length: 32 }, (_, k) => k.toString(16).toUpperCase().padStart(2, "0"));
  const lines = fingerprintLines(pairs.join(":"));
  expect(lines).toHaveLength(4);
  expect(lines[0]).toBe("00 01 02 03 04 05 06 07");
  expect(lines.join(" ").split(" ")).toEqual(pairs);
  expect(fingerprintLines("")).toEqual([]);
});

it("draws each dark module of a square code, in its place, with four modules of quiet round it", () => {
  const rows = ["101", "011", "100"];
  const { d, side } = squarePath(rows);
  expect(side).toBe(11);
  const drawn = new Set<string>();
  for (const [, x, y, w] of d.matchAll(/M(\d+) (\d+)h(\d+)v1h-\d+z/g)) {
    for (let k = 0; k < Number(w); k++) drawn.add(`${Number(x) + k - 4},${Number(y) - 4}`);
  }
  const dark = rows.flatMap((row, y) => [...row].flatMap((one, x) => (one === "1" ? [`${x},${y}`] : [])));
  expect([...drawn].sort()).toEqual(dark.sort());
});
