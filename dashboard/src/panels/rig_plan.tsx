/** The test plan of the rig: what is tested, for how long, what means that it has failed, and how it stands now. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import type { Kinds } from "../core/alarms";
import type { FigureKind } from "../core/cycles";
import { capital, plain } from "../core/format";
import type { Judgement } from "../core/night_words";
import { keyOf, placeOf } from "../core/shown";
import { type Names, type PlanTables, type TestPlan, countedWords, dutyWords, planFields, planGiven, planLacks, planTables } from "../core/test_plan";
import { alarmKinds } from "../feed/alarms";
import { judgementOf } from "../feed/night";
import { removePlan, setPlan, testPlan } from "../feed/test_plan";
import { Form } from "./form";
import { PlanAsText } from "./plan_as_text";
import { PlanLimits } from "./plan_limits";
import { PlanStands } from "./plan_stands";
import type { PartProps } from "./rig_part";

const AGAIN_MS = 5000; // a hand may have changed the file
const NO_KINDS: Kinds = { events: {}, verdicts: {} };
const NO_PLAN: PlanTables = {};

type Props = Pick<PartProps, "store" | "picture"> & { readonly figures: readonly FigureKind[] };

export function RigPlan({ store, picture, figures }: Props): JSX.Element {
  const { rig } = picture;
  const demo = Boolean(picture.rigs.find(({ name }) => name === rig)?.demo_motor); // a plan of an earlier rig of its name may stand
  const { plan, judged, trouble, look } = usePlan(rig);
  const kinds = useSignal<Kinds>(NO_KINDS);
  useEffect(() => void alarmKinds().then((found) => { kinds.value = found; }, () => undefined), []);
  const open = useSignal<"form" | "text" | null>(null);
  const before = useSignal<{ readonly text: string | null } | null>(null); // what a change here took the place of
  const said = useSignal("");
  const leave = (): void => { open.value = null; };
  const doing = async (act: Promise<unknown>, words: string): Promise<void> => {
    const stood = plan?.refused ? null : { text: plan?.text ?? null }; // what cannot be used cannot be set again
    said.value = "";
    await act;
    [before.value, said.value] = [stood, words];
    await look();
  };
  const set = (wanted: Parameters<typeof setPlan>[1]): Promise<void> => {
    const setting = setPlan(rig, wanted);
    return doing(setting, "").then(async () => {
      const { ended } = await setting;
      if (ended) said.value = "The run that was recorded ended with that: the next one counts.";
    });
  };
  const press = (act: Promise<unknown>, words: string): void => void doing(act, words).catch((error: Error) => { said.value = error.message; });
  const undo = (text: string | null): void => press(text === null ? removePlan(rig) : setPlan(rig, { text }), "The plan before holds again; once more brings the change back.");
  const remove = (): void => press(removePlan(rig), `The plan was put away, and is kept as ${rig}.toml.previous. The runs stay as they are.`);
  const named = (id: string): readonly [string, string] => [capital(`${store.quantity(keyOf(id))?.label ?? plain(keyOf(id))}${placeOf(id) && `, ${plain(placeOf(id))}`}`), /_rpm$/.test(keyOf(id)) ? "r/min" : (store.quantity(keyOf(id))?.unit ?? "")];
  const names: Names = { reading: named, figures, kinds: kinds.value };
  const ids = Object.keys(picture.readings).filter((id) => typeof picture.readings[id]!.value === "number");
  const tables = plan?.tables ?? null;
  const away = (tables || plan?.refused) && <button class="btn" onClick={remove}>Remove the plan</button>;
  const fields = planFields(ids.filter((id) => keyOf(id).endsWith("temperature_c")).map((id) => [id, named(id)[0]]), tables ?? NO_PLAN, picture.now_utc_s);
  return (
    <section class="sheet plan" aria-labelledby="plan">
      <h2 id="plan"><span>Test plan</span> <small>{tables ? [tables.test?.specimen, tables.test?.serial].filter(Boolean).join(", ") : "what is tested, for how long, what fails it"}</small></h2>
      <p><b>Slipring stops no motor, whatever a plan says.</b> A test that runs alone needs a protective device, and a person who can be called.</p>
      {plan?.refused && <p class="wrong" role="alert">{plan.refused}</p>}
      {trouble && <p class="wrong" role="alert">{trouble}</p>}
      {plan && !tables && !plan.refused && open.value === null && demo && <p class="second">A demo rig keeps no test plan; one is made for a board of your own.</p>}
      {plan && !tables && !plan.refused && open.value === null && !demo && <p class="second">None yet. With one, starts and hours are counted over all runs of {rig}, and it is judged whether the specimen passed or failed.</p>}
      {tables && judged && open.value !== "form" && <PlanStands its={judged} test={tables.test ?? {}} now_utc_s={picture.now_utc_s} />}
      {tables && open.value === null && <p class="second note">{capital(countedWords(tables, picture.now_utc_s))}. {dutyWords(tables) && `Duty expected: ${dutyWords(tables)}.`}</p>}
      {tables && open.value === null && !demo && <PlanLimits tables={tables} ids={ids} names={names} onSet={(now) => set({ tables: now })} />}
      {open.value === "form" && (
        <Form
          label="Test plan" fields={fields} before={planGiven(tables ?? NO_PLAN, fields)} save="Set the plan" lacks={planLacks} onLeave={leave}
          onSave={(given) => set({ tables: planTables(given, fields, tables ?? NO_PLAN, picture.now_utc_s) })}
        />
      )}
      {open.value === "form" && <p class="second note">{tables ? "" : "What fails it is added once the plan is set. "}The run that is recorded now ends where it would not count.</p>}
      {open.value === "form" && (plan?.refused || plan?.text?.includes("#")) && <p class="second note">{plan.refused ? "What stands in the file goes" : "Comments in the file go"}; the file before is kept as {rig}.toml.previous.</p>}
      {open.value === "text" && <PlanAsText text={plan?.text ?? EMPTY} wrong={plan?.refused ?? ""} onSave={(text) => set({ text })} onLeave={leave} />}
      {demo && away && <div class="row">{away}</div>}
      {plan && open.value === null && !demo && (
        <div class="row">
          {plan.refused && plan.text !== null && <button class="btn" onClick={() => { open.value = "text"; }}>Mend it as text</button>}
          <button class="btn" onClick={() => { open.value = "form"; }}>{tables ? "Change the plan" : plan.refused ? "Make another plan in its place" : "Make a test plan"}</button>
          {!plan.refused && <button class="btn" onClick={() => { open.value = "text"; }}>Write it as text</button>}
          {away}
          {before.value && <button class="btn" onClick={() => undo(before.value!.text)}>Undo the change of the plan</button>}
        </div>
      )}
      <p class="second note" role="status">{said.value}</p>
      {plan?.file && <p class="second note file">Kept in {plan.file}; what is written there holds here.</p>}
    </section>
  );
}

const EMPTY = '[test]\nspecimen = ""\nserial = ""\ngoal_cycles = 10000\n\n[readings.current_rms_a]\nhigh = 0.8\n';

interface Kept {
  readonly plan: TestPlan | null; // null: not known yet
  readonly judged: Judgement | null;
  readonly trouble: string; // why it cannot be judged, or ""
  readonly look: () => Promise<void>;
}

function usePlan(rig: string): Kept {
  const kept = useSignal<Omit<Kept, "look">>({ plan: null, judged: null, trouble: "" });
  const look = async (): Promise<void> => {
    const plan = await testPlan(rig).catch(() => null); // the alarm line tells of a service that is gone
    if (!plan) return;
    let [judged, trouble] = [null as Judgement | null, ""];
    if (plan.tables) judged = await judgementOf(rig).catch((error: Error) => { trouble = error.message; return null; });
    kept.value = { plan, judged, trouble };
  };
  useEffect(() => {
    void look();
    const timer = setInterval(() => { if (!document.hidden) void look(); }, AGAIN_MS);
    return () => clearInterval(timer);
  }, [rig]);
  return { ...kept.value, look };
}
