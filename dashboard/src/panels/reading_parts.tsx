/** Name and value of a reading in words, as they stand in lists and tables. */
import type { JSX } from "preact";
import { capital, symbolParts } from "../core/format";
import type { Quantity } from "../core/picture";
import type { Shown } from "../core/shown";

export interface Item {
  readonly id: string;
  readonly quantity: Quantity;
  readonly look: Shown;
}

export function Name({ quantity }: { quantity: Quantity }): JSX.Element {
  const [base, low] = symbolParts(quantity.symbol);
  const words = capital(quantity.label).split(" ");
  const last = words.pop(); // the symbol never stands alone in a line of its own
  return <>{words.map((word) => `${word} `)}<span class="whole">{last} {base}{low && <sub>{low}</sub>}</span></>;
}

/** `unit`: what stands behind the number where it has no column of its own. */
export function Value({ look, figure, unit = "" }: { look: Shown; figure: number; unit?: string }): JSX.Element {
  return (
    <>
      <span class={look.mark === "doubtful" ? "doubt" : ""} title={look.title || undefined}>{look.text}</span>
      {unit && <span class="second">{unit}</span>}
      {figure > 0 && <sup aria-hidden="true">{figure}</sup>}
      {(look.why || look.title) && <span class="sr"> {[look.why, look.title].filter(Boolean).join(", ")}</span>}
    </>
  );
}
