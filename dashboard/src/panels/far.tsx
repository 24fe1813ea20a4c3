/** The far line: the state's word and the motor type's three readings, to be read from two metres. */
import type { JSX } from "preact";
import { STALE_S } from "../core/ageing";
import { farContext } from "../core/context";
import type { Picture } from "../core/picture";
import { keyOf, placeOf, shown } from "../core/shown";
import type { Store } from "../core/store";
import { stateContext, stateWord } from "../core/words";

const ROLES: readonly (readonly [RegExp, string])[] = [
  [/^voltage_/, "voltage"],
  [/^(phase_)?current_/, "current"],
  [/speed_rpm$/, "speed"],
];

/** For these the order of the Hall states stands in the far line. */
const ORDER = ["commutation_valid", "state_order", "hall_state"];

export function Far({ store }: { store: Store }): JSX.Element {
  const picture = store.far.value;
  const linked = store.linked.value;
  if (!picture) return <section class="far" aria-label="Now"><State word={linked ? "Waiting" : "No service"} below="for the first picture" faint={false} /></section>;
  const state = picture.connection.state;
  const aged = linked && (state === "stale" || store.silence_s.value > STALE_S);
  const known = !["no_board", "connecting", "refused"].includes(state);
  const power = Object.keys(picture.readings).find((id) => keyOf(id) === "active_power_w"); // fills the phone's fourth place
  return (
    <section class="far" aria-label="Now">
      <State word={stateWord(picture, linked)} below={stateContext(picture, linked)} faint={aged} />
      {known && picture.far.map((id) => <FarReading key={id} id={id} picture={picture} store={store} />)}
      {known && picture.far.length === 3 && power && <div class="phone-only"><FarReading id={power} picture={picture} store={store} /></div>}
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

function FarReading({ id, picture, store }: { id: string; picture: Picture; store: Store }): JSX.Element {
  const quantity = store.quantity(keyOf(id));
  if (ORDER.includes(keyOf(id))) return <HallOrder picture={picture} />;
  const look = shown(quantity, picture.readings[id]);
  const role = ROLES.find(([pattern]) => pattern.test(id))?.[1] ?? "power";
  const place = placeOf(id);
  const lost = look.mark === "absent" && (picture.connection.state !== "live" || !store.linked.value); // then the state says why, once for all
  return (
    <div>
      <p class={`x${look.mark === "stale" ? " aged" : ""}`}>
        <span class={look.mark === "doubtful" ? "doubt" : ""}>{look.text}</span>
        {look.unit && <span class={`unit ${role}`}>{look.unit}</span>}
        <span class="sr"> {quantity?.label} {place}{look.mark && `, ${look.why}`}</span>
      </p>
      <p class="y">{lost ? "\u00a0" : look.mark ? look.why : farContext(id, picture)}</p>
    </div>
  );
}

/** Brushless: the order of the states stands in the far line. */
function HallOrder({ picture }: { picture: Picture }): JSX.Element {
  const hall = picture.hall;
  const seen = hall?.seen.length ? hall.seen.join(" ") : "–";
  const words = !hall || hall.valid === null ? "state order not seen yet" : hall.valid ? "state order, right" : "state order, not right";
  return (
    <div>
      <p class="x order">{seen}</p>
      <p class="y">{words}</p>
    </div>
  );
}
