/** On Watch and Rig: whether the board is connected as it was meant, in a line, with what is wrong, and the way to the drawing. */
import type { JSX } from "preact";
import { sumOf } from "../core/connections";
import type { Picture } from "../core/picture";
import type { Store } from "../core/store";
import type { Panel } from "./panel";

export function Connections({ store }: { store: Store }): JSX.Element {
  const picture = store.calm.value;
  if (!picture || !fits(picture)) return <></>;
  const { findings } = picture;
  const wrong = findings.filter(({ verdict }) => verdict === "wrong");
  return (
    <section class="sheet connections" aria-labelledby="connections">
      <h2 id="connections"><span>Connections</span> <small class={wrong.length ? "strong" : ""}>{sumOf(findings)}</small></h2>
      {wrong.length > 0 && <ul class="found">{wrong.map((each) => <li key={`${each.key} ${each.sensor} ${each.place}`} class="wrong">{each.text}</li>)}</ul>}
      <p><a href="#connect">How to connect the board</a></p>
    </section>
  );
}

const fits = ({ board, motor }: Picture): boolean => board !== null && motor.type !== "";

export const CONNECTIONS: Panel = { key: "connections", side: "answers", fits, view: Connections };
