/** One reason for many numbers stands once; a small figure beside each number says which one is its. */
import type { Shown } from "./shown";

/** Every different reason once, in the order of the readings; its place, from 1, is its figure. */
export function footnotes(looks: readonly Shown[]): string[] {
  return [...new Set(looks.map((look) => look.why).filter(Boolean))];
}
