/** All readings with their confidence: wavy line and reason, or a dash and the reason. One change a second. */
import type { JSX } from "preact";
import { useRef } from "preact/hooks";
import { plain, symbolParts } from "../core/format";
import type { Picture, Quantity } from "../core/picture";
import { reasonOf, sharedReason } from "../core/reasons";
import { type Shown, keyOf, placeOf, shown } from "../core/shown";
import type { Store } from "../core/store";
import type { Panel } from "./panel";

/** Shown elsewhere in words or as a drawing. */
const ELSEWHERE = ["run_state", "current_harmonics_a", "hall_state", "sector", "direction", "commutation_valid"];

interface Item {
  readonly id: string;
  readonly quantity: Quantity;
  readonly look: Shown;
}

function ReadingsView({ store }: { store: Store }): JSX.Element {
  const picture = store.slow.value;
  const items = picture ? itemsOf(picture, store) : [];
  const shared = sharedReason(items.map((item) => item.look));
  const tall = useRef(new Set<string>()); // once a reading has needed a second line it keeps it, so that nothing jumps
  return (
    <section class="sheet readings" aria-labelledby="readings">
      <h2 id="readings"><span>Readings</span> <small class={shared ? "strong" : ""}>{shared || note(picture)}</small></h2>
      <dl>
        {items.map(({ id, quantity, look }) => {
          const why = look.why && reasonOf(look) === shared ? "" : look.why;
          if (why) tall.current.add(id);
          return <Row key={id} quantity={quantity} place={placeOf(id)} look={look} why={why} tall={tall.current.has(id)} />;
        })}
      </dl>
    </section>
  );
}

function note(picture: Picture | null): string {
  return picture ? "wavy: doubtful; dash: absent; each with its reason" : "";
}

function itemsOf(picture: Picture, store: Store): Item[] {
  const quantities = store.hello.value?.quantities ?? [];
  const ids = Object.keys(picture.readings);
  return quantities.filter(({ key }) => !ELSEWHERE.includes(key)).flatMap((quantity) =>
    ids.filter((id) => keyOf(id) === quantity.key).map((id) => ({ id, quantity, look: shown(quantity, picture.readings[id]) })),
  );
}

interface RowProps {
  readonly quantity: Quantity;
  readonly place: string;
  readonly look: Shown;
  readonly why: string;
  readonly tall: boolean;
}

function Row({ quantity, place, look, why, tall }: RowProps): JSX.Element {
  const [base, low] = symbolParts(quantity.symbol);
  const bare = quantity.label.toLowerCase() === quantity.symbol.toLowerCase();
  return (
    <div class={tall ? "tall" : ""}>
      <dt>
        {bare ? "" : quantity.label} {base}{low && <sub>{low}</sub>}{place && ` ${plain(place)}`}
      </dt>
      <dd class={`value${look.mark === "stale" ? " aged" : ""}`}>
        <span class={look.mark === "doubtful" ? "doubt" : ""}>{look.text}</span>
        {look.mark && <span class="sr"> {look.mark}</span>}
      </dd>
      <dd class="unit">{look.unit}</dd>
      {tall && <dd class="why">{why}</dd>}
    </div>
  );
}

export const READINGS: Panel = { key: "readings", side: "drawings", fits: () => true, view: ReadingsView };
