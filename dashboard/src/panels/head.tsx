/** The head: which rig, which motor, how old the picture is, whether it is recorded. In words, always in the same place. */
import type { JSX } from "preact";
import { useRef } from "preact/hooks";
import { tagKind } from "../core/alarms";
import { age } from "../core/format";
import { type HeldRoom, heldRoom } from "../core/held_room";
import type { Picture, Playing } from "../core/picture";
import type { Store } from "../core/store";
import { motorWords, ownRig, playingWords, recordingShort, recordingWords, rigWords, roomWords } from "../core/words";
import { CautionMark, HouseMark } from "../draw/marks";
import { RigMenu } from "./rig_menu";

interface Props {
  readonly store: Store;
  readonly screens: readonly { readonly key: string; readonly name: string }[];
  readonly current: string; // the key of the screen that is shown
  readonly onRig: (name: string) => void;
}

export function Head({ store, screens, current, onRig }: Props): JSX.Element {
  const picture = store.calm.value;
  return (
    <header class="head">
      <div class="who">
        <HouseMark />
        {picture?.rig ? <RigMenu store={store} picture={picture} onRig={onRig} /> : <b>no board</b>}
        {picture?.playing && <span class="tag playing">playing</span>}
        {picture && <Source picture={picture} />}
        {picture && <Worst picture={picture} onRig={onRig} />}
        {picture && <span class="motor" title={motorWords(picture.motor)}>{motorWords(picture.motor)}</span>}
      </div>
      <nav class="nav" aria-label="Screens">
        {screens.map(({ key, name }, k) => (
          <a key={key} href={`#${key}`} aria-current={key === current ? "page" : undefined}>{name} <small aria-hidden="true">{k + 1}</small></a>
        ))}
      </nav>
      <div class="wire">
        {picture?.playing ? <PlayingState store={store} playing={picture.playing} /> : <Age store={store} />}
        {picture && !picture.playing && <RecordingState key={picture.rig} picture={picture} linked={store.linked.value} />}
      </div>
    </header>
  );
}

/** What is no hardware stands beside the name; where there is room, also which story it plays and how fast. */
function Source({ picture }: { picture: Picture }): JSX.Element | null {
  const own = ownRig(picture);
  const source = picture.source || (own?.demo_motor ? "demo" : "");
  if (!source || source === "hardware") return null;
  const played = own?.demo_motor ? [own.demo_story, own.demo_pace === 1 ? "" : `at ${own.demo_pace} × time`].filter(Boolean) : [];
  return <span class="tag" title={[source, ...played].join(", ")}><span>{source}{played.length > 0 && <span class="words">, {played.join(", ")}</span>}</span></span>;
}

/** The worst of the other rigs stands beside the name. */
function Worst({ picture, onRig }: { picture: Picture; onRig: (name: string) => void }): JSX.Element | null {
  const worst = picture.rigs.find((rig) => rig.name !== picture.rig && !rig.playing);
  if (!worst) return null;
  const kind = tagKind(worst, picture.alarms);
  const words = kind ? worst.tag : rigWords({ ...worst, motor: "" });
  return (
    <button class={`tag ${kind}`} title={words} onClick={() => onRig(worst.name)}>
      {kind && <CautionMark />}
      <span>{worst.name}<span class="words">, {words}</span></span>
    </button>
  );
}

function Age({ store }: { store: Store }): JSX.Element {
  const held = store.held.value;
  if (held) return <span>held <b>{age((store.now_ms.value - held.at_ms) / 1000)}</b> ago</span>;
  if (!store.linked.value) return <span><b>no service</b></span>;
  const seconds = store.age_s.value;
  return seconds === null ? <span>no samples yet</span> : <span><span class="opt">picture </span><b class="ms">{age(seconds)}</b> old</span>;
}

/** Which moment of the run is seen; where the room is short, without the words before it. */
function PlayingState({ store, playing }: { store: Store; playing: Playing }): JSX.Element {
  const picture = store.shown.value ?? store.calm.value!;
  if (!store.linked.value) return <span><b>no service</b></span>;
  const [words, when] = playingWords(playing, picture.now_utc_s);
  return <span class="playing"><span class="words">{words} </span><b>{when}</b></span>;
}

function RecordingState({ picture, linked }: { picture: Picture; linked: boolean }): JSX.Element {
  const held = useRef<HeldRoom | null>(null);
  if (!linked) return <span class="recording">recording not known</span>;
  const [words, strong] = recordingWords(picture.recording, picture.now_utc_s);
  const { state, room_s } = picture.recording;
  const told = room_s !== null && state === "recording";
  held.current = told ? heldRoom(held.current, room_s, picture.now_utc_s) : null;
  const room = held.current ? roomWords(held.current.room_s) : "";
  return (
    <span class="recording">
      <span class="long">{words} {strong && <b>{strong}</b>}{room && <span class="room">{room}</span>}</span>
      <span class={`short${state === "recording" ? "" : " odd"}`}>{recordingShort(picture.recording)}</span>
    </span>
  );
}
