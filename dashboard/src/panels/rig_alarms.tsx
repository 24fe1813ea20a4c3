/** Which alarms are watched, what each asks for, and whom they go to. Set here, shelved here, tried here. */
import { useSignal } from "@preact/signals";
import type { ComponentChildren, JSX } from "preact";
import { useEffect } from "preact/hooks";
import {
  type AlarmSettings, CAUSES, type Calling, type Cause, type Kinds, type Watched,
  alarmChange, alarmFields, alarmLacks, alarmGiven, callingFields, causeOf, nameWords, readyFields, strangerIn,
} from "../core/alarms";
import { capital, clock, plain } from "../core/format";
import { type Given, typed } from "../core/settings";
import { keyOf, placeOf } from "../core/shown";
import { Refusal } from "../feed/api";
import { alarmKinds, unshelve, watchedAlarms } from "../feed/alarms";
import { receivers } from "../feed/receivers";
import { soundOff, soundOn, trySound } from "../feed/sound";
import { AlarmShelf } from "./alarm_shelf";
import { Form } from "./form";
import { type PartProps, settable } from "./rig_part";

const AGAIN_MS = 2000;
const NO_KINDS: Kinds = { events: {}, verdicts: {} };

type Open = { readonly form: "shelve" | "ready" | "own"; readonly name: string; readonly cause: Cause } | { readonly form: "calling" } | null;

export function RigAlarms({ store, picture, kept, change, undo }: PartProps): JSX.Element {
  const open = useSignal<Open>(null);
  const { watched, look } = useWatched(picture.rig);
  const kinds = useSignal<Kinds>(NO_KINDS);
  useEffect(() => void alarmKinds().then((found) => { kinds.value = found; }, () => undefined), []);
  const settings = settable(kept) ? kept.settings : null;
  const all = settings?.alarms ?? {};
  const leave = (): void => { open.value = null; };
  const set = (name: string, its: object | null): Promise<unknown> => {
    const { [name]: _, ...others } = all;
    return change({ alarms: its ? { ...others, [name]: its } : others }).then(look);
  };
  const named = (id: string): string => capital(`${store.quantity(keyOf(id))?.label ?? plain(keyOf(id))}${placeOf(id) && `, ${plain(placeOf(id))}`}`);
  const readings = Object.keys(picture.readings).filter((id) => typeof picture.readings[id]!.value === "number").map((id) => [id, named(id)] as const);
  const now = open.value;
  return (
    <section class="sheet alarms" aria-labelledby="alarms">
      <h2 id="alarms"><span>Alarms</span> <small>what to do first, said in the line above</small></h2>
      <p><b>Slipring never stops a motor; a protective device must.</b></p>
      <table>
        <thead><tr><th scope="col">when</th><th scope="col">then</th><th scope="col"><span class="sr">change</span></th></tr></thead>
        <tbody>
          {watched.map((each) => (
            <Row key={each.name} watched={each}>
              {settings && !each.watched && <Press of={each} word="turn on" onPress={() => void set(each.name, { rank: each.rank })} />}
              {settings && each.watched && <Press of={each} word="change" onPress={() => { open.value = { form: each.ready ? "ready" : "own", name: each.name, cause: all[each.name] ? causeOf(all[each.name]!) : "limit" }; }} />}
              {settings && each.watched && (each.ready
                ? <Press of={each} word="turn off" onPress={() => void set(each.name, { rank: "off" })} />
                : <Press of={each} word="remove" onPress={() => void set(each.name, null)} />)}
              {each.watched && !each.shelf && <Press of={each} word="shelve" onPress={() => { open.value = { form: "shelve", name: each.name, cause: "limit" }; }} />}
              {each.shelf && <Press of={each} word="tell again" onPress={() => void unshelve(picture.rig, each.name).then(look)} />}
            </Row>
          ))}
        </tbody>
      </table>
      {now?.form === "shelve" && <AlarmShelf rig={picture.rig} name={now.name} words={wordsOf(watched, now.name)} onDone={() => { leave(); void look(); }} onLeave={leave} />}
      {now?.form === "ready" && settings && <Ready name={now.name} its={all[now.name] ?? null} watched={watched} onSave={set} onLeave={leave} />}
      {now?.form === "own" && settings && <Own key={`${now.name} ${now.cause}`} name={now.name} its={all[now.name] ?? null} cause={now.cause} readings={readings} kinds={kinds.value} onSave={set} onLeave={leave} />}
      {now?.form === "calling" && settings && <Call calling={settings.calling} onSave={(calling) => change({ calling })} onLeave={leave} />}
      {settings && now === null && (
        <div class="row">
          <span class="second">Add</span>
          {CAUSES.map(([cause, words]) => <button key={cause} class="btn" onClick={() => { open.value = { form: "own", name: "", cause }; }}>{words}</button>)}
          <button class="btn" onClick={() => { open.value = { form: "calling" }; }}>Whom to call</button>
          {undo}
        </div>
      )}
      <Sound />
    </section>
  );
}

function Row({ watched, children }: { watched: Watched; children: ComponentChildren }): JSX.Element {
  const { rank, act, shelf, why, when } = watched;
  return (
    <tr class={watched.watched ? "" : "off"}>
      <th scope="row">{nameWords(watched)}{when && <small>{capital(when)}.</small>}{shelf && <small>shelved until {clock(shelf.until_utc_s)}: {shelf.reason}</small>}{!shelf && watched.watched && why && <small>{capital(why)}.</small>}</th>
      <td>{watched.watched ? <><b>{rank}</b> {act}</> : "not watched"}</td>
      <td class="e">{children}</td>
    </tr>
  );
}

function wordsOf(watched: readonly Watched[], name: string): string {
  const its = watched.find((each) => each.name === name);
  return its ? nameWords(its) : name;
}

function Press({ of, word, onPress }: { of: Watched; word: string; onPress: () => void }): JSX.Element {
  return <button class="as-table" aria-label={`${capital(word)}: ${nameWords(of)}`} onClick={onPress}>{word}</button>;
}

type Save = (name: string, its: object) => Promise<unknown>;

function Ready({ name, its, watched, onSave, onLeave }: { name: string; its: AlarmSettings | null; watched: readonly Watched[]; onSave: Save; onLeave: () => void }): JSX.Element {
  const now = watched.find((each) => each.name === name);
  const fields = readyFields(name);
  const before: Given = { ...alarmGiven(name, its, fields), act: now?.act ?? "", rank: now?.rank ?? "" };
  return <Form key={name} label={now ? nameWords(now) : name} save="Set the alarm" fields={fields} before={before} onLeave={onLeave} onSave={(given) => onSave(name, { ...said(its), ...alarmChange(given, fields) })} />;
}

/** What was said of it before: the fields of a ready one are not all in the form. */
function said(its: AlarmSettings | null): object {
  return its ? Object.fromEntries(Object.entries(its).filter(([, value]) => value !== null && value !== "")) : {};
}

interface OwnProps {
  readonly name: string; // "": a new one
  readonly its: AlarmSettings | null;
  readonly cause: Cause;
  readonly readings: readonly (readonly [string, string])[];
  readonly kinds: Kinds;
  readonly onSave: Save;
  readonly onLeave: () => void;
}

function Own({ name, its, cause, readings, kinds, onSave, onLeave }: OwnProps): JSX.Element {
  const all = alarmFields(cause, readings, kinds);
  const fields = name ? all.filter(({ key }) => key !== "name") : all;
  const save = (given: Given): Promise<unknown> => onSave(name || (given["name"] ?? "").trim() || "alarm", alarmChange(given, fields));
  return <Form label={name || "An alarm"} save="Set the alarm" fields={fields} before={alarmGiven(name, its, fields)} lacks={alarmLacks(cause)} onSave={save} onLeave={onLeave} />;
}

function Call({ calling, onSave, onLeave }: { calling: Calling; onSave: (calling: object) => Promise<unknown>; onLeave: () => void }): JSX.Element {
  const key = (field: string): keyof Calling => field.slice("calling.".length) as keyof Calling;
  const names = useSignal<readonly string[] | null>(null);
  useEffect(() => void receivers().then((its) => { names.value = its.receivers.map(({ name }) => name); }, () => undefined), []);
  const fields = callingFields(names.value ?? []);
  const before = Object.fromEntries(fields.map((field) => [field.key, typed(calling[key(field.key)])]));
  const save = async (given: Given): Promise<unknown> => {
    const stranger = names.value && strangerIn(given, names.value);
    if (stranger) throw new Refusal(stranger[1], stranger[0]);
    return onSave(Object.fromEntries(fields.map((field) => [key(field.key), (given[field.key] ?? "").trim()])));
  };
  return (
    <>
      <Form label="Whom to call" save="Set whom to call" fields={fields} before={before} onSave={save} onLeave={onLeave} />
      {names.value && names.value.length > 0 && <p class="second note">Receivers there are: {names.value.join(", ")}. Several stand with commas between.</p>}
      <p class="second note">In the quiet hours, local time of the PC, cautions wait until they end. Alarms never wait.</p>
    </>
  );
}

/** The sound is this page's own, and off until it has been heard. */
function Sound(): JSX.Element {
  return (
    <div class="row">
      <button class="btn" onClick={trySound}>Try the sound</button>
      {soundOn.value ? <><span class="second">This page sounds for an alarm until it is acknowledged.</span><button class="as-table" onClick={soundOff}>turn it off</button></> : <span class="second">No sound on this page until you have tried it.</span>}
    </div>
  );
}

function useWatched(rig: string): { readonly watched: readonly Watched[]; readonly look: () => Promise<void> } {
  const found = useSignal<readonly Watched[]>([]);
  const look = (): Promise<void> => watchedAlarms(rig).then(({ watched }) => { found.value = watched; }, () => undefined);
  useEffect(() => {
    void look();
    const timer = setInterval(() => void look(), AGAIN_MS);
    return () => clearInterval(timer);
  }, [rig]);
  return { watched: found.value, look };
}
