/** The motors of the demo bench: each with what it is, its stories, and where it runs already. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { capital, duration, number } from "../core/format";
import { type DemoMotor, demoMotors } from "../feed/api";

const ALL = "all stories in turn";

interface Props {
  readonly onStart: (motor: string, story: string) => void;
  readonly onRig: (name: string) => void;
}

export function Demo(props: Props): JSX.Element {
  const motors = useSignal<readonly DemoMotor[] | null>(null);
  const trouble = useSignal("");
  useEffect(() => {
    demoMotors().then((list) => { motors.value = list; }, (error: Error) => { trouble.value = error.message; });
  }, []);
  if (trouble.value) return <p class="second" role="status">{trouble.value}</p>;
  if (!motors.value) return <p class="second">Asking the demo bench what there is.</p>;
  return <ul class="choices demo">{motors.value.map((motor, k) => <Motor key={motor.motor} motor={motor} first={k === 0} {...props} />)}</ul>;
}

function Motor({ motor: { motor, name, about, stories, running }, first, onStart, onRig }: Props & { motor: DemoMotor; first: boolean }): JSX.Element {
  const story = useSignal("");
  const chosen = stories.find((each) => each.name === story.value);
  const here = running.find((each) => each.story === story.value && each.pace === 1);
  const others = running.filter((each) => each !== here);
  return (
    <li>
      <span class="what"><b>{capital(name)}</b><span class="second">{capital(about)}</span></span>
      <select aria-label={`Story of the ${name}`} value={story.value} onChange={(event) => (story.value = event.currentTarget.value)}>
        <option value="">{capital(ALL)}</option>
        {stories.map((each) => <option key={each.name} value={each.name}>{capital(each.name)}</option>)}
      </select>
      {here ? (
        <button class="btn" onClick={() => onRig(here.rig)}>Show {here.rig}</button>
      ) : (
        <button class={first ? "btn first" : "btn"} aria-label={`Start the ${name}`} onClick={() => onStart(motor, story.value)}>Start</button>
      )}
      {chosen && <span class="second says">{capital(chosen.says)}; {duration(Math.round(chosen.lasts_s))}, over and over.</span>}
      {others.map(({ rig, story: played, pace }) => (
        <span key={rig} class="says">
          <button class="as-table" onClick={() => onRig(rig)}>{rig}</button> <span class="second">runs: {played || ALL}{pace === 1 ? "" : `, ${number(pace, pace < 1 ? 2 : 0)} times as fast`}</span>
        </span>
      ))}
    </li>
  );
}
