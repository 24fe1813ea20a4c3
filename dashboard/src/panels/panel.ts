/** What a panel is: a name, whether it has something to show, and how it shows it. Screens place panels. */
import type { JSX } from "preact";
import type { Picture } from "../core/picture";
import type { Store } from "../core/store";

export interface Panel {
  readonly key: string;
  readonly side: "drawings" | "answers";
  /** Whether there is anything of this kind on this rig; asked for each picture, so it must not flicker. */
  readonly fits: (picture: Picture) => boolean;
  readonly view: (props: { store: Store }) => JSX.Element;
}
