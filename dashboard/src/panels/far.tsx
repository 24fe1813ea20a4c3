/** The far line: the state's word and the motor type's three readings, to be read from two metres. */
import type { JSX } from "preact";
import { STALE_S } from "../core/ageing";
import { farContext } from "../core/context";
import { DASH } from "../core/format";
import { outside } from "../core/limits";
import type { Picture } from "../core/picture";
import { keyOf, placeOf, shown } from "../core/shown";
import type { Store } from "../core/store";
import { stateContext, stateWord } from "../core/words";
import { Opened, Opens, opened } from "./opened";

const ROLES: readonly (readonly [RegExp, string])[] = [
  [/^voltage_/, "voltage"],
  [/^(phase_)?current_/, "current"],
  [/speed_rpm$/, "speed"],
];

/** For these the order of the Hall states stands in the far line. */
const ORDER = ["commutation_valid", "state_order", "hall_state"];

export function Far({ store }: { store: Store }): JSX.Element {
  const picture = store.calm.value;
  const linked = store.linked.value;
  if (!picture) return <section class="far" aria-label="Now"><State word={linked ? "Waiting" : "No service"} below="for the first picture" faint={false} /></section>;
  const state = picture.connection.state;
  const aged = linked && (state === "stale" || store.silence_s.value > STALE_S);
  const known = !["no_board", "connecting", "refused", "settings_refused", "ended", "no_rig"].includes(state);
  const ids = Object.keys(picture.readings); // of three phases the power of all
  const power = ids.includes("active_power_w") ? "active_power_w" : ids.find((id) => keyOf(id) === "active_power_w"); // fills the phone's fourth place
  return (
    <section class="far" aria-label="Now">
      <State word={stateWord(picture, linked)} below={stateContext(picture, linked)} faint={aged} />
      {known && picture.far.map((id) => <FarReading key={id} id={id} picture={picture} store={store} />)}
      {known && picture.far.length === 3 && power && <div class="phone-only"><FarReading id={power} picture={picture} store={store} /></div>}
      {opened.value?.where === "far" && <Opened key={opened.value.id} store={store} id={opened.value.id} />}
    </section>
  );
}

function State({ word, below, faint }: { word: string; below: string; faint: boolean }): JSX.Element {
  return (
    <div class="state">
      <p class={`x${faint ? " aged" : ""}`}>{word}</p>
      <p class="y">{below}</p>
    </div>
  );
}

export function FarReading({ id, picture, store }: { id: string; picture: Picture; store: Store }): JSX.Element {
  const quantity = store.quantity(keyOf(id));
  if (ORDER.includes(keyOf(id))) return <HallOrder picture={picture} />;
  const look = shown(quantity, picture.readings[id], false, true);
  const role = ROLES.find(([pattern]) => pattern.test(id))?.[1] ?? "power";
  const unit = look.unit || (look.mark === "absent" ? quantity?.unit : ""); // so large a dash says of what it is
  const why = look.why || (look.mark === "absent" ? "absent: not measured here" : "");
  return (
    <div class="press">
      <p class={`x${look.mark === "stale" ? " aged" : ""}`}>
        <span class={look.mark === "doubtful" ? "doubt" : ""} title={look.title || undefined}>{look.text}</span>
        {unit && <span class={`unit ${role}`}>{unit}</span>}
        <span class="sr"> {quantity?.label} {placeOf(id)}{why && `, ${why}`}{look.title && `, ${look.title}`}</span>
      </p>
      <p class="y">{why || outside(id, picture, look.unit) || farContext(id, picture)}</p>
      <Opens id={id} where="far" name={quantity?.label ?? id} />
    </div>
  );
}

/** Brushless: the order of the states stands in the far line. */
function HallOrder({ picture }: { picture: Picture }): JSX.Element {
  const hall = picture.hall;
  const look = shown(undefined, picture.readings["commutation_valid"]);
  const seen = hall?.seen.length ? hall.seen.join(" ") : DASH;
  const verdict = !hall || hall.valid === null ? "state order not seen yet" : hall.valid ? "state order, right" : "state order, not right";
  return (
    <div>
      <p class={`x order${look.mark === "stale" ? " aged" : ""}`}><span class={look.mark === "doubtful" ? "doubt" : ""}>{seen}</span></p>
      <p class="y">{look.why || verdict}</p>
    </div>
  );
}
