/** Builds the page into server/static. Nothing is inlined: the page's content policy allows its own files only. */
import { defineConfig } from "vitest/config";

export default defineConfig({
  base: "./",
  oxc: { jsx: { runtime: "automatic", importSource: "preact" } },
  build: {
    outDir: "../server/static",
    emptyOutDir: true,
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    target: "es2022",
    reportCompressedSize: false,
  },
  test: { include: ["src/**/*.test.ts"], environment: "node", css: true },
});
