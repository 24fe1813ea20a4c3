/** Cautions that always stand: what Slipring is not, and what the motor's side is. */
import type { ComponentChildren, JSX } from "preact";
import { motorSide } from "../core/plate";
import { CautionMark } from "../draw/marks";

/** `volts`: of the plate, null where it is not known; `hertz`: of its supply. */
export function RigCautions({ volts, hertz }: { volts: number | null; hertz: number | null }): JSX.Element {
  const [bold, rest] = motorSide(volts, hertz);
  return (
    <>
      <Standing><b>Slipring watches, it does not protect.</b> Fuse, emergency stop and guard come first, and work without this PC.</Standing>
      <Standing><b>{bold}</b> {rest}</Standing>
    </>
  );
}

function Standing({ children }: { children: ComponentChildren }): JSX.Element {
  return <div class="sheet always"><CautionMark /><p>{children}</p></div>;
}
