/** Rig: the chain from motor to page, board and channels, the plate beside what is measured, and all settings. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useRef } from "preact/hooks";
import type { KeptRig, MotorType } from "../core/settings";
import { changeRig, keptRig, motorTypes, undoRig } from "../feed/api";
import { Connections } from "../panels/connections";
import { RigAlarms } from "../panels/rig_alarms";
import { RigCalibration } from "../panels/rig_calibration";
import { RigCautions } from "../panels/rig_cautions";
import { RigChain } from "../panels/rig_chain";
import { RigChannels } from "../panels/rig_channels";
import { RigCycles } from "../panels/rig_cycles";
import { RigDevices } from "../panels/rig_devices";
import { RigLimits } from "../panels/rig_limits";
import type { PartProps } from "../panels/rig_part";
import { RigPlan } from "../panels/rig_plan";
import { RigPlate } from "../panels/rig_plate";
import { RigReceivers } from "../panels/rig_receivers";
import { RigSettings } from "../panels/rig_settings";
import { RigSpace } from "../panels/rig_space";
import { useCycles } from "../panels/use_cycles";
import type { Screen, ScreenProps } from "./screen";

const AGAIN_MS = 2000; // another page or a hand may have changed the file

function RigView({ store, onRig }: ScreenProps): JSX.Element {
  const picture = store.calm.value;
  const rig = picture?.playing ? "" : (picture?.rig ?? "");
  const { kept, look, changing } = useKept(picture?.connection.state === "no_rig" ? "" : rig);
  const types = useTypes();
  const cycles = useCycles(rig ? (picture?.recording.run ?? "") : "");
  const last = useSignal<Part>("settings");
  if (picture?.playing) return <div class="cols one"><p class="sheet">A recorded run is played: it has the settings of its time, and nothing of them is changed here. Its rig's own are shown when playing is stopped.</p><RigDevices /></div>;
  if (!picture || !rig) return <div class="cols one"><p class="sheet">No rig yet. <a href="#watch">Watch</a> finds a board or starts a demo motor.</p><RigDevices /></div>;
  const part = (name: Part): PartProps => ({
    store, picture, kept, types,
    change: async (settings) => {
      const now = await changing(changeRig(rig, settings));
      last.value = name;
      if (now !== rig) onRig(now);
      else await look();
    },
    undo: kept?.undo && last.value === name ? <Undo undo={() => undoRig(rig).then(look)} /> : null,
  });
  return (
    <div class="cols rig" key={rig}>
      <div class="stack">
        <RigChain store={store} /><RigChannels {...part("channels")} /><Connections store={store} /><RigAlarms key={rig} {...part("alarms")} /><RigReceivers {...part("alarms")} />
        <RigCycles picture={picture} {...cycles} />
        {picture.connection.state !== "no_rig" && <RigCalibration rig={rig} serial={picture.board?.serial ?? ""} />}<RigSettings {...part("settings")} /><RigDevices />
      </div>
      <div class="stack side">
        <RigPlate {...part("plate")} /><RigLimits {...part("limits")} /><RigPlan store={store} picture={picture} figures={cycles.its?.kinds ?? []} /><RigSpace {...part("space")} />
        <div class="stack stays"><RigCautions volts={picture.motor.plate["voltage_v"] ?? null} hertz={picture.motor.plate["frequency_hz"] ?? null} /></div>
      </div>
    </div>
  );
}

type Part = "alarms" | "channels" | "settings" | "plate" | "limits" | "space";

/** Where the last change was made; of one that this page has not seen it stands with the rig's own settings. */
function Undo({ undo }: { undo: () => Promise<unknown> }): JSX.Element {
  const said = useSignal("");
  const press = (): void => {
    undo().then(() => { said.value = "The settings before hold again; once more brings the change back."; }, (error: Error) => { said.value = error.message; });
  };
  return <><button class="btn" onClick={press}>Undo the last change</button><span class="second note" role="status">{said.value}</span></>;
}

interface Kept {
  readonly kept: KeptRig | null; // null until it is known
  readonly look: () => Promise<void>;
  readonly changing: (change: Promise<string>) => Promise<string>; // a rig that gets another name is not asked for by its old one
}

/** The rig as it is kept, looked at again and again; "": none is. */
function useKept(rig: string): Kept {
  const kept = useSignal<KeptRig | null>(null);
  const paused = useRef(false);
  const look = async (): Promise<void> => {
    const found = rig && !paused.current ? await keptRig(rig).catch(() => null) : null; // the alarm line tells of a service that is gone
    if (found) kept.value = found;
  };
  const changing = async (change: Promise<string>): Promise<string> => {
    paused.current = true;
    const now = await change.catch((error: Error) => { paused.current = false; throw error; });
    if (now === rig) paused.current = false;
    return now;
  };
  useEffect(() => {
    paused.current = false;
    void look();
    const timer = setInterval(() => void look(), AGAIN_MS);
    return () => clearInterval(timer);
  }, [rig]);
  return { kept: kept.value?.name === rig ? kept.value : null, look, changing };
}

function useTypes(): readonly MotorType[] {
  const types = useSignal<readonly MotorType[]>([]);
  useEffect(() => void motorTypes().then((found) => { types.value = found; }, () => undefined), []);
  return types.value;
}

export const RIG: Screen = { key: "rig", name: "Rig", far: false, view: RigView };
