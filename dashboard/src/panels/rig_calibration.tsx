/** How each channel is calibrated, since when and against what; from here one is calibrated anew, or the last taken back. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { type CalibratedChannel, type Calibration, WHATS, type What, heldWords } from "../core/calibration";
import { capital } from "../core/format";
import { calibration, undo } from "../feed/calibration";
import { Calibrate } from "./calibrate";

const AGAIN_MS = 2000; // a hand may have changed the file

interface Chosen {
  readonly channel: CalibratedChannel;
  readonly what: What;
}

export function RigCalibration({ rig, serial }: { readonly rig: string; readonly serial: string }): JSX.Element {
  const kept = useSignal<Calibration | null>(null);
  const chosen = useSignal<Chosen | null>(null);
  const said = useSignal("");
  const look = (): Promise<void> => calibration(rig).then((found) => { kept.value = found; }, () => { kept.value = null; }); // the alarm line tells of a service that is gone
  useEffect(() => {
    void look();
    const timer = setInterval(() => void look(), AGAIN_MS);
    return () => clearInterval(timer);
  }, [rig, serial]);
  const takeBack = ({ channel, what }: Chosen): void => {
    undo(rig, what, channel.channel).then(
      async () => { await look(); said.value = `The ${what} calibration of ${nameOf(channel)} was undone; the one before it holds.`; },
      (error: Error) => { said.value = error.message; },
    );
  };
  const its = kept.value?.described ? kept.value : null;
  const open = chosen.value;
  return (
    <section class="sheet calibration" aria-labelledby="calibration">
      <h2 id="calibration"><span>Calibration</span> <small>{its ? `of board ${its.serial}` : "against a better instrument"}</small></h2>
      {its === null && <p class="second">The board has not said yet what it measures.</p>}
      {its?.refusal && <p class="wrong">Not used: {its.refusal} Once it is corrected it is read again by itself.</p>}
      {its?.channels.map((channel) => (
        <Channel key={channel.channel} channel={channel} onUndo={(what) => takeBack({ channel, what })} onCalibrate={(what) => { said.value = ""; chosen.value = { channel, what }; }} />
      ))}
      <p class="second note" role="status">{said.value}</p>
      {its && open && (
        <Calibrate
          key={`${open.channel.channel} ${open.what}`} rig={rig} calibration={its} channel={open.channel} what={open.what}
          onLeave={() => { chosen.value = null; }}
          onKept={(words) => { chosen.value = null; said.value = words; void look(); }}
        />
      )}
      {its && <p class="second note file">Kept in {its.file}</p>}
    </section>
  );
}

interface ChannelProps {
  readonly channel: CalibratedChannel;
  readonly onCalibrate: (what: What) => void;
  readonly onUndo: (what: What) => void;
}

function Channel({ channel, onCalibrate, onUndo }: ChannelProps): JSX.Element {
  const name = nameOf(channel);
  return (
    <details>
      <summary><b>{name}</b> <span class="second">{heldWords(channel)}</span></summary>
      <ul>
        {WHATS.filter((what) => channel.words[what] !== undefined).map((what) => (
          <li key={what}>
            <span>{what}</span>
            <span class="second">{channel.words[what]}</span>
            <span class="doing">
              {channel.entries.some((entry) => entry.what === what && entry.holds) && <button class="as-table" onClick={() => onUndo(what)} aria-label={`Undo the ${what} of ${name}`}>undo</button>}
              <button class="as-table" onClick={() => onCalibrate(what)} aria-label={`${capital(what)} of ${name}: calibrate`}>calibrate</button>
            </span>
          </li>
        ))}
      </ul>
    </details>
  );
}

function nameOf({ name, place }: CalibratedChannel): string {
  return name || place;
}
