/** Rig: the chain from motor to page, the board and its channels as it describes them. */
import type { JSX } from "preact";
import { BOARD } from "../panels/board";
import type { Screen, ScreenProps } from "./screen";

function RigView({ store }: ScreenProps): JSX.Element | null {
  const picture = store.calm.value;
  if (!picture?.rig) return <div class="cols one"><p class="sheet">No rig yet. <a href="#watch">Watch</a> finds a board or starts a demo motor.</p></div>;
  const Board = BOARD.view;
  return <div class="cols one rig" key={picture.rig}><Board store={store} /></div>;
}

export const RIG: Screen = { key: "rig", name: "Rig", far: false, view: RigView };
