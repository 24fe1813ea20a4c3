/** Cautions that are so now, the worst first: always there, always in the same place. Without one it promises nothing. */
import type { JSX } from "preact";
import type { Store } from "../core/store";
import { calibrationWords } from "../core/words";
import { CautionMark } from "../draw/marks";

export function AlarmLine({ store }: { store: Store }): JSX.Element {
  const all = store.cautions.value;
  const playing = store.calm.value?.playing;
  const calm = playing ? `A recording of ${playing.rig}: what is shown was so then, computed ${calibrationWords(playing)}.` : "Slipring only watches; it is no safety device.";
  if (!all.length) return <section class="alarmline" aria-label="Cautions"><span>{calm}</span></section>;
  return (
    <section class="alarmline caution" aria-label="Cautions">
      <CautionMark />
      <ul>{all.map(({ key, bold, rest }) => <li key={key}><b>{bold}</b> {rest}</li>)}</ul>
    </section>
  );
}
