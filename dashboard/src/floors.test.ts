/** Imports of the page point down only: main > screens > panels > draw | feed > core. Neighbours do not meet. */
import { expect, it } from "vitest";

const FLOORS: Readonly<Record<string, readonly string[]>> = {
  core: ["core"],
  draw: ["draw", "core"],
  feed: ["feed", "core"],
  panels: ["panels", "draw", "feed", "core"],
  screens: ["screens", "panels", "draw", "feed", "core"],
};

const SOURCES = import.meta.glob<string>(["./**/*.ts", "./**/*.tsx", "!./**/*.test.ts"], { query: "?raw", import: "default", eager: true });

function imports(text: string): string[] {
  return [...text.matchAll(/from "(\.[^"]+)"/g)].map((match) => match[1]!);
}

it("keeps every file on its floor", () => {
  const wrong = Object.entries(SOURCES).flatMap(([path, text]) => {
    const folder = path.split("/")[1]!;
    const allowed = FLOORS[folder];
    if (!allowed) return [];
    return imports(text)
      .map((target) => (target.startsWith("../") ? target.split("/")[1]! : folder))
      .filter((floor) => !allowed.includes(floor))
      .map((floor) => `${path} imports ${floor}`);
  });
  expect(Object.keys(SOURCES).length).toBeGreaterThan(30);
  expect(wrong).toEqual([]);
});

it("builds no markup from text, runs no code from text, and stores no style in markup", () => {
  const risky = /innerHTML|dangerouslySetInnerHTML|insertAdjacentHTML|document\.write|\beval\(|new Function|setAttribute\("style"/;
  expect(Object.entries(SOURCES).filter(([, text]) => risky.test(text)).map(([path]) => path)).toEqual([]);
});
