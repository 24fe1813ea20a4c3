/** The chain from motor to page, broken where it is broken, and how much of what was sent has come. */
import type { JSX } from "preact";
import { age, duration, number, typeset } from "../core/format";
import { losses } from "../core/losses";
import type { Store } from "../core/store";
import { Chain, chainOf } from "../draw/chain";
import { Field, boardFields } from "./board";

export function RigChain({ store }: { store: Store }): JSX.Element | null {
  const picture = store.calm.value;
  if (!picture) return null;
  const { damage, board, connection, now_utc_s } = picture;
  const age_s = store.age_s.value;
  const look = chainOf(connection.state, store.linked.value, damage.frames_lost ? `${number(damage.frames_lost)} lost` : "", age_s === null ? "" : age(age_s));
  const last = damage.last_utc_s === null ? "" : `${damage.last_text}, ${duration(Math.max(0, Math.round(now_utc_s - damage.last_utc_s)))} ago`;
  const [first, second] = halves([
    ...boardFields(picture, age_s),
    ["Protocol", board?.protocol ?? "–"],
    ...losses(damage).map(({ where, amount, none }) => [where, amount, "", none] as const),
  ]);
  return (
    <>
      <Chain look={look} />
      <section class="sheet" aria-labelledby="board">
        <h2 id="board"><span>Board</span> <small>{[board?.serial, board?.model, board?.firmware && `firmware ${board.firmware}`].filter(Boolean).join(", ") || "not described yet"}</small></h2>
        <div class="two">
          {[first, second].map((rows, k) => (
            <dl class="fields" key={k}>{rows.map(([name, value, note, none]) => <Field key={name} name={name} value={value} note={note ?? ""} none={none ?? false} />)}</dl>
          ))}
        </div>
        {last && <p class="second note">Last: {typeset(last)}. What was lost is left out, not guessed.</p>}
        {picture.recording.state !== "none" && picture.recording.gaps_s > 0 && <p class="second note">Gaps in this run: {duration(picture.recording.gaps_s < 10 ? picture.recording.gaps_s : Math.round(picture.recording.gaps_s))} in all.</p>}
      </section>
    </>
  );
}

type Row = readonly [string, string, string?, boolean?];

function halves(rows: readonly Row[]): readonly [readonly Row[], readonly Row[]] {
  const half = Math.ceil(rows.length / 2);
  return [rows.slice(0, half), rows.slice(half)];
}
