/**
 * All readings with their confidence: a wavy line or a dash, and a small figure that leads to the
 * reason below. What is measured at several places stands in a table beside each other.
 */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { capital, symbolParts } from "../core/format";
import { outside } from "../core/limits";
import type { Picture, Quantity } from "../core/picture";
import { footnotes } from "../core/reasons";
import { placeWords } from "../core/rows";
import { type Shown, isStarting, keyOf, placeOf, shown } from "../core/shown";
import type { Store } from "../core/store";
import type { Panel } from "./panel";

/** Shown elsewhere: with the board, in words, in the dimension of the phase, on the ring, as dots. */
const ELSEWHERE = /^(current_harmonics_a|power_factor_sense|hall_state|sector|direction|commutation_valid|state_order|electrical_deg|board_.*)$/;
/** Follow from others, or are small for alternating current: only behind "all". */
const SECOND = /_(mean_v|mean_a|peak_a)$|crest_factor$|_thd[gs]_percent$/;
const SECOND_AT_PLACES = /_(mean_v|mean_a|peak_a|var|va)$|crest_factor$|^displacement|_thd[gs]_percent$/;

interface Item {
  readonly id: string;
  readonly quantity: Quantity;
  readonly look: Shown;
}

function ReadingsView({ store }: { store: Store }): JSX.Element {
  const all = useSignal(false);
  const picture = store.calm.value;
  const items = picture ? itemsOf(picture, store) : [];
  const direct = !items.some(({ quantity }) => quantity.key === "frequency_hz");
  const kept = all.value ? items : items.filter((item) => isFirst(item, direct));
  const notes = footnotes(kept.map((item) => item.look));
  const figure = (look: Shown): number => notes.indexOf(look.why) + 1;
  return (
    <section class="sheet readings" aria-labelledby="readings">
      <h2 id="readings">
        <span>Readings</span>
        <button class="as-table" aria-expanded={all.value} onClick={() => (all.value = !all.value)}>{all.value ? "those that matter" : `all ${items.length}`}</button>
      </h2>
      <dl>{kept.filter(({ id }) => !placeOf(id)).map((item) => <Row key={item.id} item={item} figure={figure(item.look)} />)}</dl>
      <Places items={kept.filter(({ id }) => placeOf(id))} figure={figure} />
      <ol class="notes">{notes.map((note, k) => <li key={note}><sup>{k + 1}</sup> {note}</li>)}</ol>
    </section>
  );
}

function itemsOf(picture: Picture, store: Store): Item[] {
  const quantities = store.quantities();
  const ids = Object.keys(picture.readings);
  return quantities.filter(({ key }) => !ELSEWHERE.test(key)).flatMap((quantity) =>
    ids.filter((id) => keyOf(id) === quantity.key).map((id) => ({ id, quantity, look: limited(shown(quantity, picture.readings[id], isStarting(picture.readings)), id, picture) })),
  );
}

/** What is outside a limit says so where others say why they are doubtful. */
function limited(look: Shown, id: string, picture: Picture): Shown {
  return look.why ? look : { ...look, why: outside(id, picture, look.unit) };
}

function isFirst({ id, quantity }: Item, direct: boolean): boolean {
  if (direct && /_mean_/.test(quantity.key)) return true;
  return !(placeOf(id) ? SECOND_AT_PLACES : SECOND).test(quantity.key);
}

function Row({ item: { quantity, look }, figure }: { item: Item; figure: number }): JSX.Element {
  return (
    <div>
      <dt><Name quantity={quantity} /></dt>
      <dd class={`value${look.mark === "stale" ? " aged" : ""}`}><Value look={look} figure={figure} /></dd>
      <dd class="unit">{look.unit}</dd>
    </div>
  );
}

function Name({ quantity }: { quantity: Quantity }): JSX.Element {
  const [base, low] = symbolParts(quantity.symbol);
  const words = capital(quantity.label).split(" ");
  const last = words.pop(); // the symbol never stands alone in a line of its own
  return <>{words.map((word) => `${word} `)}<span class="whole">{last} {base}{low && <sub>{low}</sub>}</span></>;
}

function Value({ look, figure }: { look: Shown; figure: number }): JSX.Element {
  return (
    <>
      <span class={look.mark === "doubtful" ? "doubt" : ""} title={look.title || undefined}>{look.text}</span>
      {figure > 0 && <sup aria-hidden="true">{figure}</sup>}
      {(look.why || look.title) && <span class="sr"> {[look.why, look.title].filter(Boolean).join(", ")}</span>}
    </>
  );
}

/** Quantities as rows, places as columns: phases are compared by looking along a line. */
function Places({ items, figure }: { items: readonly Item[]; figure: (look: Shown) => number }): JSX.Element | null {
  const places = [...new Set(items.map(({ id }) => placeOf(id)))];
  const keys = [...new Set(items.map(({ quantity }) => quantity.key))];
  if (!places.length) return null;
  return (
    <table class="places">
      <thead><tr><th scope="col"><span class="sr">at</span></th>{places.map((place) => <th key={place} scope="col">{capital(placeWords(place))}</th>)}</tr></thead>
      <tbody>
        {keys.map((key) => {
          const here = items.filter(({ quantity }) => quantity.key === key);
          return (
            <tr key={key}>
              <th scope="row"><Name quantity={here[0]!.quantity} /></th>
              {places.map((place) => {
                const look = here.find(({ id }) => placeOf(id) === place)?.look;
                return <td key={place} class={look?.mark === "stale" ? "aged" : ""}>{look && <><b><Value look={look} figure={figure(look)} /></b> <span class="second">{look.unit}</span></>}</td>;
              })}
            </tr>
          );
        })}
      </tbody>
    </table>
  );
}

export const READINGS: Panel = { key: "readings", side: "drawings", fits: () => true, view: ReadingsView };
