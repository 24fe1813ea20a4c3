/** What a screen is: its place in the address, its name in the head, and what it shows. The frame around it is the same for all. */
import type { JSX } from "preact";
import type { Store } from "../core/store";

export interface ScreenProps {
  readonly store: Store;
  readonly onRig: (name: string) => void;
  readonly onRetry: () => void;
}

export interface Screen {
  readonly key: string; // "#rig" in the address; what stands behind a further "/" is the screen's own
  readonly name: string;
  readonly far: boolean; // whether the far line stands above it
  readonly view: (props: ScreenProps) => JSX.Element | null;
}
