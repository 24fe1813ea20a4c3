/** Below the picture: how many cycles it shows, and on a held one its points. */
import type { JSX } from "preact";
import { useEffect, useRef } from "preact/hooks";
import type { Store } from "../core/store";
import { BetweenPoints } from "./between";
import { ZOOMS, measure } from "./measure";

export function TraceTools({ store }: { store: Store }): JSX.Element {
  const box = useRef<HTMLDivElement>(null);
  useEffect(() => pinches(box.current!.closest(".sheet")!), []);
  const held = store.held.value !== null;
  const ready = measure.trace !== null;
  const cycles = measure.cycles.value;
  const repeated = store.calm.value?.trace?.turns == null ? "cycles" : "turns";
  const begin = (): void => {
    measure.begin();
    requestAnimationFrame(() => box.current?.querySelector<HTMLElement>(".handle")?.focus());
  };
  return (
    <div class="tools" ref={box}>
      <p class="choices" role="group" aria-label="Time in the picture">
        <button class="as-table" disabled={held ? !ready : cycles === ZOOMS[0]} onClick={() => measure.zoom(false)}>{held ? "less time" : `fewer ${repeated}`}</button>
        <button class="as-table" disabled={held ? !ready : cycles === ZOOMS.at(-1)} onClick={() => measure.zoom(true)}>{held ? "more time" : `more ${repeated}`}</button>
        {held && <button class="as-table" disabled={!ready} onClick={() => measure.move(false)}>earlier</button>}
        {held && <button class="as-table" disabled={!ready} onClick={() => measure.move(true)}>later</button>}
        {held && !measure.both.value && <button class="as-table" disabled={!ready} onClick={begin}>set two points</button>}
        {held && measure.points.value.some((point) => point) && <button class="as-table" onClick={() => measure.clear()}>take the points off</button>}
        <button class="as-table" onClick={() => store.toggleHold(performance.now())}>{held ? "go on" : "hold"}</button>
      </p>
      {held && ready && !measure.points.value.some((point) => point) && <p class="second">Press on a line to set a point; two are measured against each other.</p>}
      {measure.trouble.value && <p class="second" role="status">{measure.trouble.value}</p>}
      <BetweenPoints store={store} />
    </div>
  );
}

const STEP = 60; // of a wheel: one pinch of a touchpad is many small ones

/** A pinch on a touchpad comes as a wheel with Ctrl. */
function pinches(sheet: Element): () => void {
  let turned = 0;
  const wheel = (event: Event): void => {
    const { ctrlKey, deltaY } = event as WheelEvent;
    if (!ctrlKey) return;
    event.preventDefault();
    turned += deltaY;
    if (Math.abs(turned) < STEP) return;
    measure.zoom(turned > 0);
    turned = 0;
  };
  sheet.addEventListener("wheel", wheel, { passive: false });
  return () => sheet.removeEventListener("wheel", wheel);
}
