/** Health of the board and the wire: the chain, what was lost, the clock, the channels as the board describes them. */
import type { JSX } from "preact";
import { age, duration, number, plain, rough, withUnit } from "../core/format";
import { losses } from "../core/losses";
import type { BoardChannel, Picture } from "../core/picture";
import type { Store } from "../core/store";
import { Chain, chainOf } from "../draw/chain";
import { Table } from "../draw/drawing";
import { noticeNeeded } from "./notice";
import type { Panel } from "./panel";

function BoardView({ store }: { store: Store }): JSX.Element {
  const picture = store.calm.value;
  if (!picture) return <></>;
  const { damage, board, connection } = picture;
  const age_s = store.age_s.value;
  const look = chainOf(connection.state, store.linked.value, damage.frames_lost ? `${number(damage.frames_lost)} lost` : "", age_s === null ? "" : age(age_s));
  return (
    <div class="board">
      {noticeNeeded(picture, store.linked.value) || <Chain look={look} />}
      <section class="sheet" aria-labelledby="board">
        <h2 id="board"><span>Board</span> <small>{[board?.serial, board?.model, board?.firmware && `firmware ${board.firmware}`].filter(Boolean).join(", ")}</small></h2>
        <dl class="fields">
          {boardFields(picture, age_s).map(([name, value, note]) => <Field key={name} name={name} value={value} note={note ?? ""} />)}
          {losses(damage).map(({ where, amount, none }) => <Field key={where} name={where} value={amount} note="" none={none} />)}
        </dl>
        {board && <details><summary>{board.channels.length === 1 ? "1 channel" : `${board.channels.length} channels`}</summary><Channels channels={board.channels} /></details>}
      </section>
    </div>
  );
}

type FieldWords = readonly [string, string, string?];

export function boardFields({ damage, board, sample_utc_uncertainty_s }: Picture, age_s: number | null): FieldWords[] {
  const drift = board?.clock_drift_ppm;
  const clock = sample_utc_uncertainty_s === null ? "not synchronised" : `within ${age(Math.max(sample_utc_uncertainty_s, 0.01))}`;
  return [
    ["Frames", withUnit(number(damage.frames_per_s), "per s")],
    ["Newest sample", age_s === null ? "–" : `${age(age_s)} old`],
    ["Clock", clock, drift == null ? "" : `drift ${withUnit(number(drift, 1), "ppm")}`],
    ["Board up", board?.up_s == null ? "–" : duration(Math.floor(board.up_s))],
    ...(board?.temperature_c == null ? [] : [["Temperature", withUnit(number(board.temperature_c, 1), "°C")] as const]),
    ...(board?.supply_v == null ? [] : [["Supply", withUnit(number(board.supply_v, 2), "V")] as const]),
  ];
}

export function Field({ name, value, note, none = false }: { name: string; value: string; note: string; none?: boolean }): JSX.Element {
  return (
    <div>
      <dt>{name}</dt>
      <dd class={none ? "none" : ""}>{value}</dd>
      {note && <dd class="note">{note}</dd>}
    </div>
  );
}

function Channels({ channels }: { channels: readonly BoardChannel[] }): JSX.Element {
  const range = ({ low, high, unit }: BoardChannel): string =>
    Math.abs(low + high) < 0.02 * (high - low) ? `±${rough(high, unit)}` : `${rough(low, unit)} to ${rough(high, unit)}`;
  const rate = (hz: number | null): string => (hz === null ? "uneven" : hz >= 1000 ? withUnit(number(hz / 1000, hz % 1000 ? 1 : 0), "kS/s") : withUnit(number(hz), "S/s"));
  const rows = channels.map((each) => [each.name, plain(`${each.role}${each.place && `, ${each.place}`}`), range(each), rate(each.rate_hz), number(each.clipped)]);
  return <Table caption="Channels" data={{ head: ["", "measures", "range", "rate", "clipped"], rows }} />;
}

export const BOARD: Panel = { key: "board", side: "answers", fits: () => true, view: BoardView };
