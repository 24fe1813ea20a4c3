/** What takes longer than a person waits for has a bar on the page: how far it is, or for how long it has been going on. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { duration } from "../core/format";

const LONG_MS = 2000; // a wait is told from here on
const STEP_MS = 500;

interface Props {
  readonly what: string;
  readonly share?: number | null; // 0 to 1; where nobody knows it, none
  readonly sheet?: boolean;
}

/** Stands on the page as long as it is waited for; a short wait is not told. */
export function Waiting({ what, share = null, sheet = false }: Props): JSX.Element | null {
  const waited_ms = useSignal(0);
  useEffect(() => {
    const begun_ms = performance.now();
    const timer = setInterval(() => { waited_ms.value = performance.now() - begun_ms; }, STEP_MS);
    return () => clearInterval(timer);
  }, []);
  if (waited_ms.value < LONG_MS && share === null) return null;
  const far = share === null ? `${duration(Math.floor(waited_ms.value / 1000))} so far` : `${Math.round(share * 100)}\u00a0%`;
  return (
    <p class={`waiting${sheet ? " sheet" : ""}`}>
      <progress aria-label={what} {...(share === null ? {} : { value: share })} /> <span>{what}, {far}.</span>
    </p>
  );
}
