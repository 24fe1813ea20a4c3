/** The alarm line: always there, always in the same place. Cautions that are so now; there are no alarms yet. */
import { useComputed } from "@preact/signals";
import type { JSX } from "preact";
import { cautions } from "../core/cautions";
import type { Picture } from "../core/picture";
import type { Store } from "../core/store";
import { CautionMark } from "../draw/marks";

export function AlarmLine({ store }: { store: Store }): JSX.Element {
  const found = useComputed(() => {
    const picture = store.far.value;
    const { state, lost_utc_s } = store.link.value;
    return picture ? cautions(picture, store.silence_s.value, state === "open" ? null : lost_utc_s) : [];
  });
  const [worst, ...others] = found.value;
  if (!worst) return <div class="alarmline"><span>{quiet(store.far.value)}</span></div>;
  const more = others.length ? ` And ${others.length} more.` : "";
  return (
    <div class="alarmline caution">
      <CautionMark />
      <span><b>{worst.bold}</b> {worst.rest}{more}</span>
    </div>
  );
}

function quiet(picture: Picture | null): string {
  const other = picture?.rigs.find((rig) => rig.rank > 0 && rig.name !== picture.rig);
  return other ? `No alarms here; ${other.name}: ${other.tag}` : "No alarms";
}
