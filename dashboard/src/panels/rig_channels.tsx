/** The channels as the board describes them, and what a person says of them where its word is wrong or missing. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { age, number, plain, rough, withUnit } from "../core/format";
import type { BoardChannel } from "../core/picture";
import { ROLES, channelName } from "../core/settings";
import { Form } from "./form";
import { type PartProps, changeable } from "./rig_part";

export function RigChannels({ picture, kept, change, undo }: PartProps): JSX.Element {
  const open = useSignal<BoardChannel | null>(null);
  const channels = picture.board?.channels ?? [];
  const settings = changeable(kept) ? kept.settings : null;
  return (
    <section class="sheet channels" aria-labelledby="channels">
      <h2 id="channels"><span>Channels</span> <small>as the board describes them{channels.some(({ said }) => said) && ", and as you set them"}</small></h2>
      {channels.length === 0 ? <p class="second">{picture.board ? "This board has inputs alone." : "The board has not said yet what it measures."}</p> : (
        <table>
          <thead><tr><th scope="col"><span class="sr">name</span></th><th scope="col">measures</th><th scope="col" class="wide">where</th><th scope="col" class="e">range</th><th scope="col" class="e wide">rate</th><th scope="col" class="e wide">one count</th><th scope="col" class="e wide">noise</th><th scope="col" class="e wide">offset at most</th><th scope="col" class="e">clipped</th>{settings && <th scope="col"><span class="sr">change</span></th>}</tr></thead>
          <tbody>{channels.map((channel) => <Row key={channel.index} channel={channel} onChange={settings ? () => { open.value = channel; } : null} />)}</tbody>
        </table>
      )}
      {undo && !open.value && <div class="row">{undo}</div>}
      {picture.board?.set_aside.map((sentence) => <p class="wrong" key={sentence}>Not used: {sentence}.</p>)}
      {open.value && settings && (
        <ChannelForm
          key={open.value.index} channel={open.value} settings={settings.channels}
          onSave={(all) => change({ channels: all })} onLeave={() => { open.value = null; }}
        />
      )}
    </section>
  );
}

function Row({ channel, onChange }: { channel: BoardChannel; onChange: (() => void) | null }): JSX.Element {
  const { name, index, role, place, said, unit, clipped } = channel;
  const board = said && `set by you; the board says ${plain(said.role)}${said.place && `, ${plain(said.place)}`}`;
  return (
    <tr>
      <th scope="row">{name || number(index)}</th>
      <td>{plain(role)}{place && <span class="narrow">, {plain(place)}</span>}{board && <small class="second">{board}</small>}</td>
      <td class="wide">{plain(place) || "–"}</td>
      <td class="e">{range(channel)}</td>
      <td class="e wide">{rate(channel)}</td>
      <td class="e wide">{channel.step ? small(channel.step, unit) : "–"}</td>
      <td class="e wide">{channel.noise_rms === null ? "not said" : small(channel.noise_rms, unit)}</td>
      <td class="e wide">{channel.offset_limit === null ? "not said" : small(channel.offset_limit, unit)}</td>
      <td class="e">{number(clipped)}</td>
      {onChange && <td class="e"><button class="as-table" onClick={onChange} aria-label={`change what ${name || index} is`}>change</button></td>}
    </tr>
  );
}

interface ChannelFormProps {
  readonly channel: BoardChannel;
  readonly settings: Readonly<Record<string, { readonly role: string; readonly place: string }>>;
  readonly onSave: (all: object) => Promise<unknown>;
  readonly onLeave: () => void;
}

function ChannelForm({ channel, settings, onSave, onLeave }: ChannelFormProps): JSX.Element {
  const name = [channelName(channel), String(channel.index)].find((each) => each in settings) ?? channelName(channel);
  const board = channel.said ?? { role: channel.role, place: channel.place };
  const key = `channels.${name}`;
  const fields = [
    { key: `${key}.role`, label: "It measures", choices: [["", `as the board says: ${plain(board.role)}`] as const, ...ROLES.map((role) => [role, role] as const)] },
    { key: `${key}.place`, label: "Where", hint: board.place ? `as the board says: ${plain(board.place)}` : "such as supply, line, L1, U" },
  ];
  const before = { [`${key}.role`]: settings[name]?.role ?? "", [`${key}.place`]: settings[name]?.place ?? "" };
  const save = (given: Readonly<Record<string, string>>): Promise<unknown> => {
    const said = { role: given[`${key}.role`] ?? "", place: (given[`${key}.place`] ?? "").trim() };
    const { [name]: _, ...others } = settings;
    return onSave(said.role || said.place ? { ...others, [name]: said } : others);
  };
  return (
    <div class="next">
      <h3>What {channel.name || `channel ${channel.index}`} is</h3>
      <p class="second">For a board whose own word is wrong or missing. It holds for the readings from now on; the recording keeps what came over the wire.</p>
      <Form label={`What ${name} is`} fields={fields} before={before} save="Read it so" onSave={save} onLeave={onLeave} />
    </div>
  );
}

function range({ low, high, unit }: BoardChannel): string {
  return Math.abs(low + high) < 0.02 * (high - low) ? `±${rough(high, unit)}` : `${rough(low, unit)} to ${rough(high, unit)}`;
}

function rate({ rate_hz, interval_max_s }: BoardChannel): string {
  if (rate_hz === null) return interval_max_s === null ? "uneven" : `every ${age(interval_max_s)}`;
  return rate_hz >= 1000 ? withUnit(number(rate_hz / 1000, rate_hz % 1000 ? 1 : 0), "kS/s") : withUnit(number(rate_hz), "S/s");
}

const PARTS: readonly (readonly [number, string])[] = [[1, ""], [1e-3, "m"], [1e-6, "µ"]];

/** Small values with their prefix: 0.0195 A -> "19.5 mA". */
function small(value: number, unit: string): string {
  const size = Math.abs(value);
  const [part, prefix] = /^[VA]$/.test(unit) ? (PARTS.find(([least]) => size >= least) ?? [1e-6, "µ"]) : [1, ""];
  return rough(value / part, prefix + unit);
}
