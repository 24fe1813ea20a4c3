/**
 * A reading that is opened in its place: what it is, where its definition is from, its window, what it may be off by and
 * what adds to that, why it is doubtful or absent. One is open at a time; pressing again or Escape closes it.
 */
import { signal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { budgetLines } from "../core/budget";
import { capital, clock, number, plain, stretch, symbolParts, withUnit } from "../core/format";
import { phaseOf } from "../core/phases";
import type { Picture, Quantity } from "../core/picture";
import { placeWords } from "../core/rows";
import { isStarting, keyOf, placeOf, shown } from "../core/shown";
import { scaleOf } from "../core/steadied";
import type { Store } from "../core/store";
import { rateOf } from "../core/units";
import { type Budget, budgetOf } from "../feed/reading_api";
import { useAsked } from "./asked";
import { Range } from "./opened_range";

/** Which reading is open, and where: it may stand in several places. */
export const opened = signal<{ readonly id: string; readonly where: string } | null>(null);

export function isOpen(id: string, where: string): boolean {
  return opened.value?.id === id && opened.value.where === where;
}

/** Lies over the whole reading, so that all of it can be pressed. */
export function Opens({ id, where, name }: { id: string; where: string; name: string }): JSX.Element {
  const open = isOpen(id, where);
  return <button class="opens" aria-expanded={open} aria-label={`${name}: what it is made of`} onClick={() => (opened.value = open ? null : { id, where })} />;
}

export function Opened({ store, id }: { store: Store; id: string }): JSX.Element | null {
  const quantity = store.quantity(keyOf(id));
  const picture = store.calm.value;
  const rig = picture?.rig ?? "";
  const budget = useAsked(() => budgetOf(rig, id), true, `${rig} ${id}`);
  useEffect(closeByEscape, []);
  if (!quantity || !picture?.readings[id]) return null;
  return (
    <section class="opened" aria-label={`${quantity.label}: what it is made of`}>
      <Head id={id} quantity={quantity} picture={picture} />
      <div class="sides">
        <div>
          <Range reading={picture.readings[id]!} quantity={quantity} look={shown(quantity, picture.readings[id], isStarting(picture.readings))} />
          {budget && <Parts budget={budget} quantity={quantity} picture={picture} />}
          {!budget && <p class="second">The service has not told yet what it is made of.</p>}
        </div>
        {budget && <Facts budget={budget} />}
      </div>
    </section>
  );
}

function closeByEscape(): () => void {
  const close = (event: KeyboardEvent): void => {
    if (event.key === "Escape" && !document.querySelector("dialog[open]")) opened.value = null;
  };
  document.addEventListener("keydown", close);
  return () => document.removeEventListener("keydown", close);
}

function Head({ id, quantity, picture }: { id: string; quantity: Quantity; picture: Picture }): JSX.Element {
  const look = shown(quantity, picture.readings[id], isStarting(picture.readings));
  const [base, low] = symbolParts(quantity.symbol);
  const phase = phaseOf(id, Object.keys(picture.readings));
  const place = phase ? `phase ${phase}` : placeOf(id) && placeWords(placeOf(id));
  const off = look.plusMinus && (/^±/.test(look.plusMinus) ? ` ${look.plusMinus}` : `, ${look.plusMinus}`);
  return (
    <>
      <p class="what">
        {base && <b class="symbol">{base}{low && <sub>{low}</sub>}</b>} {capital(quantity.label)}{place && `, ${place}`}
        <button class="as-table" onClick={() => (opened.value = null)}>close</button>
      </p>
      <p class="much">
        <b class={look.mark === "doubtful" ? "doubt" : ""}>{look.text}</b>
        {off} {look.unit}
      </p>
      {look.why && <p>{capital(look.why)}</p>}
      {look.title && <p>{capital(look.title)}</p>}
    </>
  );
}

/** The budget, largest first: each part as long as its standard uncertainty. */
function Parts({ budget, quantity, picture }: { budget: Budget; quantity: Quantity; picture: Picture }): JSX.Element | null {
  const lines = budgetLines(budget.parts, quantity.key === "slip" ? "%" : quantity.unit, scaleOf(quantity) * rateOf(quantity, picture.speed_unit));
  if (!lines.length) return picture.readings[budget.id]?.value == null ? null : <p class="whynot">± is not known: {budget.why_not}.</p>;
  return (
    <table class="budget">
      <caption>95 % of cases{budget.coverage_factor !== null && `: ${number(budget.coverage_factor, 2)} times the root of the summed squares`}</caption>
      <thead><tr><th scope="col">source</th><th scope="col"><span class="sr">length</span></th><th scope="col" class="e">standard uncertainty</th><th scope="col" class="e">share</th></tr></thead>
      <tbody>
        {lines.map(({ source, standard, share, bar }) => (
          <tr key={source}>
            <th scope="row">{source}</th>
            <td class="bars"><span style={{ width: `${Math.max(100 * bar, 1)}%` }} /></td>
            <td class="e">{standard}</td>
            <td class="e">{share}</td>
          </tr>
        ))}
      </tbody>
    </table>
  );
}

function Facts({ budget: { quantity, window_s, at_utc_s } }: { budget: Budget }): JSX.Element {
  const rows = [
    ["is", quantity.definition.replaceAll("`", "")],
    ["by", quantity.source],
    ["window", window_s > 0 ? `${stretch(window_s)}, until ${clock(at_utc_s, true)}` : `at ${clock(at_utc_s, true)}`],
    ["needs", quantity.needs],
    ["for", quantity.motors.length ? quantity.motors.map(plain).join(", ") : "all motors"],
  ] as const;
  return <dl class="facts">{rows.map(([name, text]) => <div key={name}><dt>{name}</dt><dd>{withUnit(text, "")}</dd></div>)}</dl>;
}
