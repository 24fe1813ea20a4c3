/** The motor's plate beside what was measured; changed here, the same as in the file. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { compared } from "../core/agrees";
import { typeWords } from "../core/format";
import { type Given, type KeptRig, PLATE, motorChange, motorFields, typed } from "../core/settings";
import { Form } from "./form";
import { type PartProps, changeable } from "./rig_part";

export function RigPlate({ picture, kept, types, change, undo }: PartProps): JSX.Element {
  const open = useSignal(false);
  const { motor } = picture;
  const source = motor.plate_source === "settings" ? "set by you" : motor.plate_source === "board" ? "as the board says" : "nobody has said";
  const rows = PLATE.map(([key, label, unit]) => [key, key === "pole_pairs" ? "Poles" : label, compared(key, unit, picture)] as const)
    .filter(([key, , { said, words }]) => (said || words) && (key !== "hall_spacing_deg" || motor.type === "brushless"));
  const label = types.find(({ type }) => type === motor.type)?.label ?? typeWords(motor.type);
  return (
    <section class="sheet plate" aria-labelledby="plate">
      <h2 id="plate"><span>Motor plate</span> <small>{[motor.name, source].filter(Boolean).join("; ")}</small></h2>
      {open.value && changeable(kept) ? (
        <Form
          label="Motor plate" fields={motorFields(types)} before={given(kept.motor)} save="Save the plate"
          onSave={(now) => change({ motor: motorChange(now) })} onLeave={() => { open.value = false; }}
        />
      ) : (
        <>
          <dl class="fields">
            <div><dt>Type</dt><dd class={label ? "" : "none"}>{label || "not said"}</dd></div>
            {rows.map(([key, name, { said, words, odd }]) => (
              <div key={key}><dt>{name}</dt><dd class={said ? "" : "none"}>{said || "not said"}</dd>{words && <dd class={odd ? "note odd" : "note"}>{words}</dd>}</div>
            ))}
          </dl>
          {changeable(kept) && (
            <div class="row">
              <button class="btn" onClick={() => { open.value = true; }}>Change the plate</button>
              {kept.settings.motor && <button class="btn" onClick={() => void change({ motor: null })}>Take what the board says</button>}
              {undo}
            </div>
          )}
        </>
      )}
    </section>
  );
}

/** Whoever begins from what the board says changes only what is wrong in it. */
function given({ name, type, plate }: KeptRig["motor"]): Given {
  return { "motor.name": name, "motor.type": type, ...Object.fromEntries(PLATE.map(([key]) => [`motor.plate.${key}`, typed(plate[key])])) };
}
