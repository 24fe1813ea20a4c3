/**
 * Light, dark, and the colours by their role. Drawings on canvas read tokens here; `epoch` changes
 * whenever the tokens may have changed, so that everything drawn follows.
 */
import { signal } from "@preact/signals";

export const epoch = signal(0);

const KEPT = "slipring-theme";
const dark = matchMedia("(prefers-color-scheme: dark)");

export function startTheme(asked: string | null): void {
  const kept = asked ?? localStorage.getItem(KEPT);
  apply(kept === "light" || kept === "dark" ? kept : "");
  for (const query of [dark, matchMedia("(forced-colors: active)"), matchMedia("print")]) {
    query.addEventListener("change", refresh);
  }
}

export function toggleTheme(): void {
  const shown = document.documentElement.dataset["theme"] || (dark.matches ? "dark" : "light");
  const next = shown === "dark" ? "light" : "dark";
  localStorage.setItem(KEPT, next);
  apply(next);
}

function apply(theme: string): void {
  document.documentElement.dataset["theme"] = theme;
  refresh();
}

let tokens = new Map<string, string>();

function refresh(): void {
  tokens = new Map();
  epoch.value++;
}

/** Colour of a role: token("voltage") is --voltage as it is now. */
export function token(role: string): string {
  const known = tokens.get(role);
  if (known !== undefined) return known;
  const value = getComputedStyle(document.documentElement).getPropertyValue(`--${role}`).trim();
  tokens.set(role, value);
  return value;
}
