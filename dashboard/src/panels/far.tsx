/** The far line: the state's word and the motor type's three readings, to be read from two metres. */
import type { JSX } from "preact";
import { farContext } from "../core/context";
import { capital } from "../core/format";
import type { Picture } from "../core/picture";
import { keyOf, placeOf, shown } from "../core/shown";
import type { Store } from "../core/store";
import { stateContext, stateWord } from "../core/words";

const ROLES: readonly (readonly [RegExp, string])[] = [
  [/^voltage_/, "voltage"],
  [/^(phase_)?current_/, "current"],
  [/speed_rpm$/, "speed"],
];

export function Far({ store }: { store: Store }): JSX.Element {
  const picture = store.far.value;
  const linked = store.linked.value;
  if (!picture) return <section class="far" aria-label="Now"><State word={linked ? "Waiting" : "No service"} below="for the first picture" faint={false} /></section>;
  const known = !["no_board", "connecting", "refused"].includes(picture.connection.state);
  return (
    <section class="far" aria-label="Now">
      <State word={stateWord(picture, linked)} below={stateContext(picture, linked)} faint={store.faint.value && linked && known} />
      {known && picture.far.map((id) => <FarReading key={id} id={id} picture={picture} store={store} />)}
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
  if (keyOf(id) === "hall_state") return <HallOrder picture={picture} />;
  const look = shown(quantity, picture.readings[id]);
  const role = ROLES.find(([pattern]) => pattern.test(id))?.[1] ?? "power";
  const place = placeOf(id);
  return (
    <div>
      <p class={`x${look.mark === "stale" ? " aged" : ""}`}>
        <span class={look.mark === "doubtful" ? "doubt" : ""}>{look.text}</span>
        {look.unit && <span class={`unit ${role}`}>{look.unit}</span>}
        <span class="sr"> {quantity?.label} {place}{look.mark && `, ${look.why}`}</span>
      </p>
      <p class="y">{look.mark ? look.why : farContext(id, picture)}</p>
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
      <p class="y">{capital(words)}</p>
    </div>
  );
}
