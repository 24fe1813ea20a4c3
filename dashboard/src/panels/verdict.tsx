/** Verdicts on the run: what is wrong with the motor now, its signs, and the next test with its caution first. */
import type { JSX } from "preact";
import type { Store } from "../core/store";
import type { Panel } from "./panel";
import { WiringAnswer } from "./wiring_answer";

function VerdictView({ store }: { store: Store }): JSX.Element {
  const verdicts = store.calm.value?.verdicts ?? [];
  return <>{verdicts.map((verdict) => <WiringAnswer key={verdict.key} verdict={verdict} mends={[]} lead={false} />)}</>;
}

export const VERDICT: Panel = { key: "verdict", side: "answers", fits: ({ verdicts }) => verdicts.length > 0, view: VerdictView };
