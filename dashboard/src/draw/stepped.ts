/** Stepped back: only what must be read from across the room. */
import { signal } from "@preact/signals";

export const stepped = signal(false);

export function stepBack(): void {
  stepped.value = !stepped.value;
  document.documentElement.classList.toggle("farview", stepped.value);
}
