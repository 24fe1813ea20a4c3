/** Quantities as rows, places as columns: phases are compared by looking along a line. */
import type { JSX } from "preact";
import { capital } from "../core/format";
import { type Grid, TOTAL } from "../core/phases";
import { placeWords } from "../core/rows";
import type { Shown } from "../core/shown";
import type { Store } from "../core/store";
import { Opened, Opens, isOpen } from "./opened";
import { type Item, Name, Value } from "./reading_parts";

interface Props {
  readonly store: Store;
  readonly grid: Grid;
  readonly items: readonly Item[];
  readonly figure: (look: Shown) => number;
}

export function Places({ store, grid, items, figure }: Props): JSX.Element {
  const its = (id: string | undefined): Item | undefined => items.find((item) => item.id === id);
  return (
    <div class="scrolls">
      <table class="places">
        <thead>
          <tr>
            <th scope="col"><span class="sr">at</span></th>
            {grid.columns.map((column) => <th key={column} scope="col">{column === TOTAL ? TOTAL : capital(placeWords(column))}</th>)}
          </tr>
        </thead>
        <tbody>
          {grid.rows.map(({ key, ids }) => {
            const open = ids.find((id) => id && isOpen(id, "readings"));
            const quantity = ids.map(its).find((item) => item)?.quantity;
            if (!quantity) return null;
            return [
              <tr key={key}>
                <th scope="row"><Name quantity={quantity} /></th>
                {ids.map((id, k) => <Cell key={grid.columns[k]} item={its(id)} column={grid.columns[k]!} figure={figure} />)}
              </tr>,
              open && <tr key={`${key} opened`}><td colSpan={ids.length + 1}><Opened store={store} id={open} /></td></tr>,
            ];
          })}
        </tbody>
      </table>
    </div>
  );
}

/** The unit stands where there is room, ± before it goes. */
function Cell({ item, column, figure }: { item: Item | undefined; column: string; figure: (look: Shown) => number }): JSX.Element {
  if (!item) return <td />;
  const { id, quantity, look } = item;
  return (
    <td class={`press${look.mark === "stale" ? " aged" : ""}`}>
      <b><Value look={look} figure={figure(look)} /></b> <span class="second">{look.unit}</span>{look.plusMinus && <small class="pm"> {look.plusMinus}</small>}
      <Opens id={id} where="readings" name={`${quantity.label}, ${placeWords(column)}`} />
    </td>
  );
}
