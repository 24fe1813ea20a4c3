/** Cautions that are so now: always there, always in the same place. Without one it promises nothing. */
import type { JSX } from "preact";
import type { Store } from "../core/store";
import { CautionMark } from "../draw/marks";

export function AlarmLine({ store }: { store: Store }): JSX.Element {
  const [worst, ...others] = store.cautions.value;
  if (!worst) return <section class="alarmline" aria-label="Cautions"><span>Slipring only watches; it is no safety device.</span></section>;
  const more = others.length ? ` And ${others.length} more.` : "";
  return (
    <section class="alarmline caution" aria-label="Cautions">
      <CautionMark />
      <span><b>{worst.bold}</b> {worst.rest}{more}</span>
    </section>
  );
}
