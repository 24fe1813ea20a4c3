/** What a panel asks the service for about once a second, as long as somebody can see it. */
import { useSignal } from "@preact/signals";
import type { RefObject } from "preact";
import { useEffect } from "preact/hooks";

const EVERY_MS = 1000;

/** The newest answer; null before the first, after one that failed, and when `key` changed. Nothing is asked while not `on`. */
export function useAsked<T>(ask: () => Promise<T>, on: boolean, key: string): T | null {
  const answer = useSignal<{ key: string; found: T | null }>({ key, found: null });
  useEffect(() => {
    if (!on) return undefined;
    let [alive, timer] = [true, 0];
    const again = async (): Promise<void> => {
      const found = document.hidden ? undefined : await ask().catch(() => null);
      if (!alive) return;
      if (found !== undefined) answer.value = { key, found };
      timer = window.setTimeout(() => void again(), EVERY_MS);
    };
    void again();
    return () => {
      alive = false;
      clearTimeout(timer);
    };
  }, [on, key]);
  return answer.value.key === key ? answer.value.found : null;
}

/** Whether any of an element is on the screen. */
export function useSeen(box: RefObject<HTMLElement | null>): boolean {
  const seen = useSignal(false);
  useEffect(() => {
    const observer = new IntersectionObserver((entries) => (seen.value = entries.some((entry) => entry.isIntersecting)));
    observer.observe(box.current!);
    return () => observer.disconnect();
  }, []);
  return seen.value;
}
