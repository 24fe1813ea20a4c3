/** What the page said to a screen reader because a person asked for it, for those who see: a line at the foot for a while. */
import { signal } from "@preact/signals";
import type { JSX } from "preact";

const SHOWN_MS = 5000;
const said = signal("");
let timer: ReturnType<typeof setTimeout> | undefined;

export function showSaid(words: string): void {
  said.value = words;
  clearTimeout(timer);
  timer = setTimeout(() => (said.value = ""), SHOWN_MS);
}

export function Said(): JSX.Element | null {
  return said.value ? <p class="said" aria-hidden="true"><b>Said:</b> {said.value}</p> : null;
}
