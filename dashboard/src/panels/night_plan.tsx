/** The test plan of the rig: goal, counts over all its runs, time left, and how it stands with the evidence. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import type { Judgement } from "../core/night_words";
import { type Plan, judgementOf, planOf } from "../feed/night";
import type { NightModel } from "./night_model";
import { PlanStands } from "./plan_stands";

const AGAIN_MS = 10_000;

export function NightPlan({ model }: { model: NightModel }): JSX.Element | null {
  const picture = model.store.calm.value;
  const own = picture?.rigs.find(({ name }) => name === model.rig.value);
  const [rig, demo] = [own?.name ?? "", Boolean(own?.demo_motor)];
  const plan = useSignal<Plan | null>(null);
  const judged = useSignal<Judgement | null>(null);
  const trouble = useSignal("");
  useEffect(() => {
    let [over, timer] = [false, 0];
    const look = async (): Promise<void> => {
      try {
        const found = await planOf(rig);
        const stands = found.tables ? await judgementOf(rig) : null;
        if (over) return;
        [plan.value, judged.value, trouble.value] = [found, stands, found.refused];
      } catch (error) {
        if (over) return;
        trouble.value = (error as Error).message;
      }
      timer = window.setTimeout(() => void look(), AGAIN_MS);
    };
    [plan.value, judged.value, trouble.value] = [null, null, ""];
    if (rig) void look();
    return () => { over = true; clearTimeout(timer); };
  }, [rig]);
  if (!rig || (!plan.value && !trouble.value)) return null;
  const test = plan.value?.tables?.test;
  return (
    <section class={`sheet nightplan${test ? "" : " none"}`} aria-labelledby="nightplan">
      <h2 id="nightplan">Test plan <small>{test && [test.specimen, test.serial].filter(Boolean).join(", ")}</small></h2>
      {trouble.value && <p class="trouble" role="alert">{trouble.value}</p>}
      {judged.value && test && <PlanStands its={judged.value} test={test} now_utc_s={picture?.now_utc_s ?? 0} />}
      {plan.value && !test && !trouble.value && demo && <p class="second">A demo rig keeps no test plan.</p>}
      {plan.value && !test && !trouble.value && !demo && (
        <p class="second">None for {rig}. A plan says what is tested, for how many cycles or hours, and what means that it has failed; it is made on <a href="#rig">Rig</a>, or by <code class="whole">slipring plan {rig} --set FILE</code>.</p>
      )}
    </section>
  );
}
