/** The motors of the demo bench: each with what it is, its stories, and where it runs already. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { capital, duration, number } from "../core/format";
import { type DemoMotor, demoMotors } from "../feed/api";

const ALL = "all stories in turn";
const PACES = [[1, "In real time"], [0.1, "Ten times slower"], [10, "Ten times as fast"]] as const;

interface Props {
  readonly onStart: (motor: string, story: string, pace: number) => void;
  readonly onRig: (name: string) => void;
}

export function Demo(props: Props): JSX.Element {
  const motors = useSignal<readonly DemoMotor[] | null>(null);
  const trouble = useSignal("");
  const pace = useSignal(1);
  useEffect(() => {
    demoMotors().then((list) => { motors.value = list; }, (error: Error) => { trouble.value = error.message; });
  }, []);
  if (trouble.value) return <p class="second" role="status">{trouble.value}</p>;
  if (!motors.value) return <p class="second">Asking the demo bench what there is.</p>;
  return (
    <>
      <label class="row">
        Time passes
        <select value={String(pace.value)} onChange={(event) => (pace.value = Number(event.currentTarget.value))}>
          {PACES.map(([times, words]) => <option key={times} value={String(times)}>{words}</option>)}
        </select>
        {pace.value !== 1 && <span class="second">Its own clock goes with it: times shown are the demo motor's.</span>}
      </label>
      <ul class="choices demo">
        {motors.value.map((motor, k) => <Motor key={motor.motor} motor={motor} first={k === 0} pace={pace.value} {...props} />)}
      </ul>
    </>
  );
}

interface MotorProps extends Props {
  readonly motor: DemoMotor;
  readonly first: boolean;
  readonly pace: number;
}

function Motor({ motor: { motor, name, about, stories, running }, first, pace, onStart, onRig }: MotorProps): JSX.Element {
  const story = useSignal("");
  const chosen = stories.find((each) => each.name === story.value);
  const here = running.find((each) => each.story === story.value && each.pace === pace);
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
        <button class={first ? "btn first" : "btn"} aria-label={`Start the ${name}`} onClick={() => onStart(motor, story.value, pace)}>Start</button>
      )}
      {chosen && <span class="second says">{capital(chosen.says)}; {duration(Math.round(chosen.lasts_s))}, over and over.</span>}
      {others.map(({ rig, story: played, pace: its }) => (
        <span key={rig} class="says">
          <button class="as-table" onClick={() => onRig(rig)}>{rig}</button> <span class="second">runs: {played || ALL}{its === 1 ? "" : `, ${number(its, its < 1 ? 2 : 0)} times as fast`}</span>
        </span>
      ))}
    </li>
  );
}
