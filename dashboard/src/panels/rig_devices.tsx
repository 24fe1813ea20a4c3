/** Other devices: pair one by a code as text and as a square, see what each may do, remove it. On a device: itself. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect } from "preact/hooks";
import { whenWords } from "../core/runs";
import { type Code, type Pairing, type Session, asksFirst, mayWords, visitor } from "../core/visitor";
import { beginPairing, endPairing, endSession, leave, pairing, sessions } from "../feed/access";
import { PairingCode } from "./pairing_code";

const LOOK_MS = 2000;

export function RigDevices(): JSX.Element | null {
  if (!visitor.value) return null;
  return (
    <section class="sheet devices" aria-labelledby="devices">
      <h2 id="devices"><span>Other devices</span> <small>{asksFirst.value ? "this one is paired" : "a phone beside the motor, paired by a code"}</small></h2>
      {asksFirst.value ? <Itself /> : <AtPc />}
    </section>
  );
}

function Itself(): JSX.Element {
  const trouble = useSignal("");
  const go = (): void => void leave().then(() => location.reload(), (error: Error) => { trouble.value = error.message; });
  return (
    <>
      <p><b>{visitor.value?.name}</b> {mayWords({ may: visitor.value?.may ?? [] })}.</p>
      <div class="row"><button class="btn" onClick={go}>Forget this device</button></div>
      {trouble.value && <p class="wrong" role="alert">{trouble.value}</p>}
    </>
  );
}

interface Found {
  readonly pairing: Pairing;
  readonly sessions: readonly Session[];
}

function AtPc(): JSX.Element {
  const found = useSignal<Found | null>(null);
  const code = useSignal<Code | null>(null);
  const said = useSignal("");
  const look = async (): Promise<void> => {
    const now = await Promise.all([pairing(), sessions()]).catch(() => null); // the alarm line tells of a service that is gone
    if (!now) return;
    const [open, list] = now;
    const devices = (all: readonly Session[] | undefined): readonly Session[] => all?.filter(({ kind }) => kind === "device") ?? [];
    if (code.value && open.open_s <= 0) {
      const come = devices(list).find(({ number }) => !devices(found.value?.sessions).some((each) => each.number === number));
      said.value = come ? `${come.name} is paired.` : "The code has ended, and no device was paired.";
      code.value = null;
    }
    found.value = { pairing: open, sessions: list };
  };
  useEffect(() => {
    void look();
    const timer = setInterval(() => void look(), LOOK_MS);
    return () => { clearInterval(timer); if (code.value) void endPairing().catch(() => undefined); }; // whoever leaves shows no code
  }, []);
  const act = (doing: Promise<unknown>, words: string): void => {
    said.value = "";
    void doing.then(async () => { await look(); said.value = words; }, (error: Error) => { said.value = error.message; });
  };
  const begin = (): void => act(beginPairing().then((made) => { code.value = made; }), "");
  const its = found.value;
  if (!its) return <p class="second">Looking.</p>;
  const devices = its.sessions.filter(({ kind }) => kind === "device");
  const browsers = its.sessions.filter(({ kind }) => kind === "browser");
  const remove = (one: Session): void => act(endSession(one.number), `${one.name} was removed.`);
  return (
    <>
      {its.pairing.url ? <Where pairing={its.pairing} /> : <Closed />}
      {code.value && <PairingCode code={code.value} left_s={its.pairing.open_s || code.value.open_s} onEnd={() => { code.value = null; act(endPairing(), "No code holds any more."); }} />}
      {its.pairing.url && !code.value && <div class="row"><button class="btn first" onClick={begin}>Pair a device</button></div>}
      <p class="second note" role="status">{said.value}</p>
      {devices.length > 0 && <List sessions={devices} remove="Remove" onRemove={remove} />}
      {its.pairing.url && !devices.length && !code.value && <p class="second">None is paired.</p>}
      {browsers.length > 0 && (
        <details>
          <summary>{browsers.length === 1 ? "1 browser of this PC" : `${browsers.length} browsers of this PC`} <span class="second">may do everything</span></summary>
          <List sessions={browsers} remove="End" onRemove={remove} />
        </details>
      )}
    </>
  );
}

function Closed(): JSX.Element {
  return <p class="second">This page is served on this PC only. To let a paired phone look, start the service with <code>--bench-network ADDRESS</code>, the address of this PC on that network.</p>;
}

function Where({ pairing: { url, fingerprint } }: { readonly pairing: Pairing }): JSX.Element {
  return (
    <>
      <p>Served to paired devices at <b class="address">{url}</b></p>
      {!fingerprint && <p class="wrong"><b>Not encrypted.</b> Whoever is on that network can read along and take a paired device’s place. Start without <code>--not-encrypted</code> to change that.</p>}
    </>
  );
}

interface ListProps {
  readonly sessions: readonly Session[];
  readonly remove: string;
  readonly onRemove: (one: Session) => void;
}

function List({ sessions: list, remove, onRemove }: ListProps): JSX.Element {
  return (
    <ul class="sessions">
      {list.map((one) => (
        <li key={one.number}>
          <span>
            <b>{one.name}</b>{one.number === visitor.value?.number && <span class="second"> (this page)</span>}
            <span class="second what">{mayWords(one)}</span>
            <span class="second what">{one.source}, used {whenWords(one.used_utc_s, Date.now() / 1000)}</span>
          </span>
          <button class="btn" aria-label={`${remove} ${one.name}`} onClick={() => onRemove(one)}>{remove}</button>
        </li>
      ))}
    </ul>
  );
}
