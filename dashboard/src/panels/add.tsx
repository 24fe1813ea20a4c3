/** Another board or demo motor beside what is watched: the first minute again, with a way back. */
import type { JSX } from "preact";
import { useEffect, useRef } from "preact/hooks";
import type { Picture } from "../core/picture";
import { First } from "./first";

interface Props {
  readonly picture: Picture;
  readonly onRig: (name: string) => void;
  readonly onLeave: () => void;
}

export function Add({ picture, onRig, onLeave }: Props): JSX.Element {
  const heading = useRef<HTMLHeadingElement>(null);
  useEffect(() => {
    heading.current?.focus();
    const escape = (event: KeyboardEvent): void => {
      if (event.key === "Escape" && !document.querySelector("dialog[open], .rigs .list")) onLeave();
    };
    document.addEventListener("keydown", escape);
    return () => {
      document.removeEventListener("keydown", escape);
      document.querySelector<HTMLElement>(".rigs > button")?.focus();
    };
  }, []);
  return (
    <>
      <div class="adding">
        <h2 ref={heading} tabIndex={-1}>Add a board or demo motor</h2>
        <button class="btn" onClick={onLeave}>Back to {picture.rig}</button>
      </div>
      <First rigs={picture.rigs.map(({ name }) => name)} onRig={onRig} />
    </>
  );
}
