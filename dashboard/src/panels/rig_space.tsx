/** The plan for disk space, agreed to beforehand: what is given up of raw samples when room gets short, and what never is. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { number, withUnit } from "../core/format";
import { type Given, type Space, numberFrom, typed } from "../core/settings";
import { roomWords } from "../core/words";
import { Form } from "./form";
import { type PartProps, changeable } from "./rig_part";

const FIELDS = [
  { key: "space.around_s", label: "Keep before and after each event", number: true, unit: "s" },
  { key: "space.each_hour_s", label: "Keep of each hour", number: true, unit: "s" },
] as const;

export function RigSpace({ picture, kept, change, undo }: PartProps): JSX.Element {
  const open = useSignal(false);
  const trouble = useSignal("");
  const settings = changeable(kept) ? kept.settings : null;
  const room_s = picture.recording.room_s;
  const withdraw = (): void => { change({ space: null }).catch((error: Error) => { trouble.value = error.message; }); };
  const agree = (given: Given): Promise<unknown> =>
    change({ space: { thin_raw: "agreed", around_s: numberFrom(given["space.around_s"] ?? ""), each_hour_s: numberFrom(given["space.each_hour_s"] ?? "") } });
  return (
    <section class="sheet space" aria-labelledby="space">
      <h2 id="space"><span>Disk space</span> <small>{room_s === null ? "" : roomWords(room_s)}</small></h2>
      {settings && <p>{planWords(settings.space)}</p>}
      {kept?.demo && <p class="second">A demo rig keeps no plan. Its samples are recorded until 1 GB of the disk is free; readings go on.</p>}
      {settings && open.value && (
        <Form
          label="The plan for disk space" fields={FIELDS} onSave={agree} onLeave={() => { open.value = false; }}
          before={{ "space.around_s": typed(settings.space.around_s), "space.each_hour_s": typed(settings.space.each_hour_s) }}
          save="Agree: when room gets short, give up all other raw samples for good"
        />
      )}
      {trouble.value && <p class="wrong" role="alert">{trouble.value}</p>}
      {settings && !open.value && (
        <div class="row">
          <button class="btn" onClick={() => { open.value = true; }}>{settings.space.thin_raw ? "Change the plan" : "Make a plan"}</button>
          {settings.space.thin_raw && <button class="btn" onClick={withdraw}>Give up nothing any more</button>}
          {undo}
        </div>
      )}
      {settings && <p class="second note">Readings, summaries, events, alarms and notes are always kept. No run is deleted unasked.</p>}
    </section>
  );
}

function planWords({ thin_raw, around_s, each_hour_s }: Space): string {
  if (!thin_raw) return "No plan: when 1\u00a0GB of the disk is free, raw samples are recorded no more, and readings go on.";
  const kept = `${withUnit(number(around_s), "s")} before and after each event and alarm, and ${withUnit(number(each_hour_s), "s")} of each hour`;
  return `Agreed: below room for 2\u00a0h, raw samples are given up but for ${kept}, the oldest first.`;
}
