/** What + and - make nearer or farther on the screen that is shown; null: the pictures of Watch. */
import { signal } from "@preact/signals";

export const zooming = signal<((nearer: boolean) => void) | null>(null);
