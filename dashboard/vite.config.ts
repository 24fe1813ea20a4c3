/** Builds the page and the door into server/static. Nothing is inlined: the content policy allows our own files only. */
import type { Plugin } from "vite";
import { defineConfig } from "vitest/config";

/** Strangers get what is in door/ and nothing else, so all that the door is made of lies there, and fonts for both. */
const FOR_ALL = /^door\.|\.woff2$/;

const twoPages: Plugin = {
  name: "two-pages",
  config: ({ root }) => (root ? {} : { build: { rollupOptions: { input: { index: "index.html", door: "door.html" } } } }), // dashboard/bench has one
};

export default defineConfig({
  base: "./",
  plugins: [twoPages],
  oxc: { jsx: { runtime: "automatic", importSource: "preact" } },
  build: {
    outDir: "../server/static",
    emptyOutDir: true,
    assetsInlineLimit: 0,
    modulePreload: { polyfill: false },
    target: "es2022",
    reportCompressedSize: false,
    rollupOptions: {
      output: {
        entryFileNames: ({ name }) => (name === "door" ? "door/[name]-[hash].js" : "assets/[name]-[hash].js"),
        assetFileNames: ({ names }) => (names.some((name) => FOR_ALL.test(name)) ? "door/[name]-[hash][extname]" : "assets/[name]-[hash][extname]"),
      },
    },
  },
  test: { include: ["src/**/*.test.ts"], environment: "node", css: true },
});
