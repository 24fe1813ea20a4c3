/**
 * Which screen the address names: "#rig", or "#rig/..." with what is the screen's own behind it. Screens are places in the
 * browser's history, so its Back leads through them. Adding a board or motor ("#another") lies over the screen that was shown.
 */
import { signal } from "@preact/signals";
import type { Screen } from "./screen";

const ANOTHER = "another";

export interface Route {
  readonly screen: string; // its key, or what stands in the address in its place
  readonly adding: boolean;
}

export const route = signal<Route>({ screen: "", adding: false });

/** The route for what now stands in the address. */
export function next(before: Route, hash: string): Route {
  const word = hash.replace(/^#/, "").split("/", 1)[0] ?? "";
  return word === ANOTHER ? { ...before, adding: true } : { screen: word, adding: false };
}

/** The screen that it names; the first where it names none that there is. */
export function screenOf(screens: readonly Screen[], { screen }: Route): Screen {
  return screens.find(({ key }) => key === screen) ?? screens[0]!;
}

export function startRoute(): void {
  const look = (): void => { route.value = next(route.value, location.hash); };
  window.addEventListener("hashchange", look);
  window.addEventListener("popstate", look); // back to an address with another rig in it is no change of the hash alone
  look();
}

export function go(key: string): void {
  location.hash = key;
}

/** Away from adding, to the screen below it; the browser's Back does not lead into it again. */
export function leaveAdding(): void {
  if (!route.value.adding) return;
  const { screen } = route.value;
  history.replaceState(null, "", location.pathname + location.search + (screen && `#${screen}`));
  route.value = { screen, adding: false };
}
