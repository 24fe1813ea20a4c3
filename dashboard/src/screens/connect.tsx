/** How to connect: reached from Watch and Rig, not from the head. */
import type { JSX } from "preact";
import { Connect } from "../panels/connect";
import type { Screen, ScreenProps } from "./screen";

function ConnectView({ store }: ScreenProps): JSX.Element {
  return <div class="connecting"><h2 class="title">How to connect the board</h2><Connect store={store} /></div>;
}

export const CONNECT: Screen = { key: "connect", name: "How to connect", far: false, view: ConnectView };
