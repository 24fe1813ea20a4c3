/** The cycles of a run, asked for again and again as long as somebody can see them. */
import { useSignal } from "@preact/signals";
import { useEffect } from "preact/hooks";
import type { Cycles } from "../core/cycles";
import { runCycles } from "../feed/test_plan";

const AGAIN_MS = 5000;

interface Found {
  readonly its: Cycles | null;
  readonly trouble: string;
}

const NOTHING: Found = { its: null, trouble: "" };

/** `run` "": none is recorded. */
export function useCycles(run: string): Found {
  const found = useSignal<Found>(NOTHING);
  useEffect(() => {
    found.value = NOTHING;
    if (!run) return undefined;
    let [alive, timer] = [true, 0];
    const again = async (): Promise<void> => {
      const now = document.hidden ? found.value : await runCycles(run).then((its): Found => ({ its, trouble: "" }), (error: Error): Found => ({ its: null, trouble: error.message }));
      if (!alive) return;
      found.value = now;
      timer = window.setTimeout(() => void again(), AGAIN_MS);
    };
    void again();
    return () => {
      alive = false;
      clearTimeout(timer);
    };
  }, [run]);
  return found.value;
}
