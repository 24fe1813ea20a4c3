/** The rig's own settings: its name, where its board is, when something counts as standing or as a stall, and the unit of speeds. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { number, withUnit } from "../core/format";
import { type Field, type Given, RIG_FIELDS, type Settings, rigChange, typed } from "../core/settings";
import { RAD_S, RPM, speedWords } from "../core/units";
import { Form } from "./form";
import { type PartProps, changeable } from "./rig_part";

export function RigSettings({ picture, kept, change, undo }: PartProps): JSX.Element {
  const open = useSignal(false);
  const trouble = useSignal("");
  const chosen = useSignal(""); // until the service has it, so that a picture that comes meanwhile does not set it back
  const choose = (unit: string): void => {
    [trouble.value, chosen.value] = ["", unit];
    change({ speed_unit: unit }).catch((error: Error) => { trouble.value = error.message; }).finally(() => { chosen.value = ""; });
  };
  return (
    <section class="sheet" aria-labelledby="settings">
      <h2 id="settings"><span>Settings</span> <small>{kept?.file ? fileName(kept.file) : ""}</small></h2>
      {kept?.demo && <p class="second">A demo rig keeps no settings. The unit of speeds and its alarms hold until its motor is stopped.</p>}
      {kept?.refusal && <p class="wrong" role="alert">{kept.refusal} {picture.connection.state !== "settings_refused" && "What held before goes on."}</p>}
      <Unit now={chosen.value || picture.speed_unit} onChoose={choose} />
      {kept && !kept.demo && !open.value && <Rows settings={kept.settings} unit={picture.speed_unit} />}
      {open.value && changeable(kept) && (
        <Form
          label="Settings of the rig" fields={RIG_FIELDS} before={before(kept.settings)} save="Save the settings"
          onSave={(given) => change(rigChange(given, before(kept.settings)))} onLeave={() => { open.value = false; }}
        />
      )}
      {trouble.value && <p class="wrong" role="alert">{trouble.value}</p>}
      {!open.value && (changeable(kept) || undo) && (
        <div class="row">{changeable(kept) && <button class="btn" onClick={() => { open.value = true; }}>Change the settings</button>}{undo}</div>
      )}
      {kept?.file && <p class="second note file">All that you set stands in {kept.file}; what is written there holds here.</p>}
    </section>
  );
}

function Unit({ now, onChoose }: { now: string; onChoose: (unit: string) => void }): JSX.Element {
  return (
    <fieldset class="speeds">
      <legend>Speeds in</legend>
      {[RPM, RAD_S].map((unit) => (
        <label key={unit}><input type="radio" name="speed_unit" value={unit} checked={unit === now} onChange={() => onChoose(unit)} /> {unit}</label>
      ))}
    </fieldset>
  );
}

function Rows({ settings, unit }: { settings: Settings; unit: string }): JSX.Element {
  const speed = unit === RAD_S ? (settings.stopped_rpm * Math.PI) / 30 : settings.stopped_rpm;
  const words: Readonly<Record<string, string>> = {
    "rig.port": settings.port || "none", "rig.baud": number(settings.baud), "rig.stopped_rpm": unit === RAD_S ? withUnit(number(speed, 2), unit) : speedWords(speed, unit),
  };
  const row = (field: Field): string => words[field.key] ?? withUnit(value(settings, field), field.unit ?? "");
  return <dl class="fields pair">{RIG_FIELDS.map((field) => <div key={field.key}><dt>{field.label}</dt><dd>{row(field)}</dd></div>)}</dl>;
}

function value(settings: Settings, { key }: Field): string {
  return typed(settings[key.slice("rig.".length) as "name" | "start_time_limit_s"]);
}

function before(settings: Settings): Given {
  return Object.fromEntries(RIG_FIELDS.map((field) => [field.key, value(settings, field)]));
}

function fileName(path: string): string {
  return path.split(/[\\/]/).pop() ?? path;
}
