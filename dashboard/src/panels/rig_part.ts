/** What each part of the Rig screen is given: the picture, the rig's settings as they are kept, and how to change them. */
import type { JSX } from "preact";
import type { Picture } from "../core/picture";
import type { KeptRig, MotorType } from "../core/settings";
import type { Store } from "../core/store";

export interface PartProps {
  readonly store: Store;
  readonly picture: Picture;
  readonly kept: KeptRig | null; // null: not known yet
  readonly types: readonly MotorType[];
  readonly change: (settings: object) => Promise<unknown>;
  readonly undo: JSX.Element | null; // the button, where the last change was made
}

/** Whether settings of this rig can be changed. */
export function changeable(kept: KeptRig | null): kept is KeptRig {
  return kept !== null && !kept.demo;
}

/** A demo rig keeps no settings, and takes alarms for as long as it runs. */
export function settable(kept: KeptRig | null): kept is KeptRig {
  return kept !== null;
}
