/** The alarm line: always there, always in the same place. Cautions that are so now; there are no alarms yet. */
import type { JSX } from "preact";
import type { Picture } from "../core/picture";
import type { Store } from "../core/store";
import { CautionMark } from "../draw/marks";

export function AlarmLine({ store }: { store: Store }): JSX.Element {
  const [worst, ...others] = store.cautions.value;
  if (!worst) return <section class="alarmline" aria-label="Alarms"><span>{quiet(store.far.value)}</span></section>;
  const more = others.length ? ` And ${others.length} more.` : "";
  return (
    <section class="alarmline caution" aria-label="Alarms">
      <CautionMark />
      <span><b>{worst.bold}</b> {worst.rest}{more}</span>
    </section>
  );
}

function quiet(picture: Picture | null): string {
  const other = picture?.rigs.find((rig) => rig.rank > 0 && rig.name !== picture.rig);
  return other ? `No alarms here; ${other.name}: ${other.tag}` : "No alarms";
}
