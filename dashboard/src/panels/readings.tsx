/**
 * All readings with what they may be off by and their confidence: a wavy line or a dash, and a small figure that leads to
 * the reason below. What is measured at several places stands in a table beside each other. Pressing one opens it.
 */
import { useSignal } from "@preact/signals";
import { Fragment, type JSX } from "preact";
import { withUnit } from "../core/format";
import { outside } from "../core/limits";
import { gridsOf } from "../core/phases";
import type { Picture } from "../core/picture";
import { footnotes } from "../core/reasons";
import { type Shown, isListed, isStarting, keyOf, placeOf, shown } from "../core/shown";
import type { Store } from "../core/store";
import { Opened, Opens, isOpen } from "./opened";
import type { Panel } from "./panel";
import { Places } from "./places";
import { type Item, Name, Value } from "./reading_parts";

/** Shown elsewhere: with the board, in words, in the dimension of the phase, as dots. */
const ELSEWHERE = /harmonic|^(power_factor_sense|board_.*)$/;
/** Follow from others, are small for alternating current, or stand in a drawing or on the ring: only behind "all". */
const SECOND = /_(mean_v|mean_a|peak_v|peak_a)$|crest_factor$|_thd[gs]_percent$|_half_cycle_|fundamental_[av]$|_angle_deg$|^(hall_state|sector|direction|commutation_valid|state_order|electrical_deg)$/;
const SECOND_AT_PLACES = /_(mean_v|mean_a|peak_v|peak_a|var|va)$|crest_factor$|^(displacement|edge_speed)|_thd[gs]_percent$|_half_cycle_|fundamental_[av]$|^(voltage|current)_angle_deg$/;
const FIRST = /^(phase_angle_deg|arithmetic_.*|effective_.*)$/;

function ReadingsView({ store }: { store: Store }): JSX.Element {
  const all = useSignal(false);
  const picture = store.calm.value;
  const items = picture ? itemsOf(picture, store) : [];
  const direct = !items.some(({ quantity }) => quantity.key === "frequency_hz");
  const kept = all.value ? items : items.filter((item) => isFirst(item, direct));
  const notes = footnotes(kept.map((item) => item.look));
  const figure = (look: Shown): number => notes.indexOf(look.why) + 1;
  const { plain, grids } = gridsOf(kept.map(({ id }) => id));
  return (
    <section class="sheet readings" aria-labelledby="readings">
      <h2 id="readings">
        <span>Readings</span> <small>± is the 95 % uncertainty; press one to open it</small>
        <button class="as-table" aria-expanded={all.value} onClick={() => (all.value = !all.value)}>{all.value ? "those that matter" : `all ${items.length}`}</button>
      </h2>
      <dl>{kept.filter(({ id }) => plain.includes(id)).map((item) => <Row key={item.id} store={store} item={item} figure={figure(item.look)} />)}</dl>
      {grids.map((grid) => <Places key={grid.columns.join()} store={store} grid={grid} items={kept} figure={figure} />)}
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

function isFirst({ id, quantity: { key } }: Item, direct: boolean): boolean {
  if (FIRST.test(key) || (direct && /_mean_/.test(key))) return true;
  return !(placeOf(id) ? SECOND_AT_PLACES : SECOND).test(key);
}

function Row({ store, item: { id, quantity, look }, figure }: { store: Store; item: Item; figure: number }): JSX.Element {
  const listed = isListed(look);
  const words = listed || (look.unit === "" && /[a-z]/.test(look.text));
  return (
    <Fragment>
      <div class={`press${words ? " words" : ""}${listed ? " listed" : ""}`}>
        <dt><Name quantity={quantity} /></dt>
        <dd class={`value${look.mark === "stale" ? " aged" : ""}`}><Value look={look} figure={figure} unit={listed ? withUnit("", look.unit) : ""} /></dd>
        <dd class="unit">{look.unit}</dd>
        <dd class="pm">{look.plusMinus}</dd>
        <dd class="cover"><Opens id={id} where="readings" name={quantity.label} /></dd>
      </div>
      {isOpen(id, "readings") && <div class="row-opened"><Opened store={store} id={id} /></div>}
    </Fragment>
  );
}

export const READINGS: Panel = { key: "readings", side: "drawings", fits: () => true, view: ReadingsView };
