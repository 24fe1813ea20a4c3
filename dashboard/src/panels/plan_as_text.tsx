/** A test plan as its text: what a person writes; a refusal stands below, with the line that it names selected. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useRef } from "preact/hooks";
import { lineOf, spanOf } from "../core/test_plan";

interface Props {
  readonly text: string;
  readonly wrong: string; // why what stands there cannot be used, or ""
  readonly onSave: (text: string) => Promise<unknown>;
  readonly onLeave: () => void;
}

export function PlanAsText({ text, wrong, onSave, onLeave }: Props): JSX.Element {
  const refused = useSignal("");
  const busy = useSignal(false);
  const area = useRef<HTMLTextAreaElement>(null);
  const point = (sentence: string): void => {
    const line = lineOf(sentence);
    area.current?.focus();
    if (line !== null) area.current?.setSelectionRange(...spanOf(area.current.value, line));
  };
  useEffect(() => point(wrong), []);
  const submit = (event: Event): void => {
    event.preventDefault();
    [busy.value, refused.value] = [true, ""];
    onSave(area.current!.value).then(onLeave, (error: Error) => {
      refused.value = error.message;
      point(error.message);
    }).finally(() => { busy.value = false; });
  };
  return (
    <form class="settings" aria-label="Test plan as text" onSubmit={submit} onKeyDown={(event) => { if (event.key === "Escape") onLeave(); }}>
      <textarea ref={area} aria-label="Text of the plan" aria-invalid={refused.value ? true : undefined} aria-describedby="plan-refused" rows={14} spellcheck={false} defaultValue={text} />
      <p class={refused.value ? "wrong" : "second note"} id="plan-refused" role={refused.value ? "alert" : undefined}>{refused.value || "TOML; what may stand in it says server/test_plan/PLAN.md."}</p>
      <div class="row">
        <button class="btn first" disabled={busy.value}>Set the plan</button>
        <button class="btn" type="button" onClick={onLeave}>Leave as it was</button>
      </div>
    </form>
  );
}
