/** Cautions that always stand: what Slipring is not, and what the motor's side is. */
import type { ComponentChildren, JSX } from "preact";
import { CautionMark } from "../draw/marks";

export function RigCautions(): JSX.Element {
  return (
    <>
      <Standing><b>Slipring watches, it does not protect.</b> Fuse, emergency stop and guard come first, and work without this PC.</Standing>
      <Standing><b>Mains on the motor side.</b> Nothing on that side is touched or rewired before it is unplugged and has come to rest. Where a licence is asked for such work, its holder does it.</Standing>
    </>
  );
}

function Standing({ children }: { children: ComponentChildren }): JSX.Element {
  return <div class="sheet always"><CautionMark /><p>{children}</p></div>;
}
