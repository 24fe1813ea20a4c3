/** Single keys, their list, and the switch that turns them off. They never act in a field. */
import { signal } from "@preact/signals";
import type { JSX } from "preact";
import { useEffect, useRef } from "preact/hooks";

export interface KeyAct {
  readonly key: string;
  readonly name: string;
  readonly does: string;
  readonly act: () => void;
}

const KEPT = "slipring-keys";
const on = signal(localStorage.getItem(KEPT) !== "off");
const listed = signal(false);

export function startKeys(acts: readonly KeyAct[]): void {
  document.addEventListener("keydown", (event) => {
    if (!on.value || event.ctrlKey || event.metaKey || event.altKey || listed.value) return;
    const target = event.target as HTMLElement;
    if (target.matches("input, select, textarea, [contenteditable]")) return;
    if (event.key === " " && target.matches("button, summary, a")) return; // there Space presses
    const found = acts.find(({ key }) => key === event.key.toLowerCase());
    if (!found && event.key !== "?") return;
    if (event.key !== "Escape") event.preventDefault(); // what is open closes by it too
    if (found) found.act();
    else listed.value = true;
  });
}

export function Keys({ acts }: { acts: readonly KeyAct[] }): JSX.Element {
  const dialog = useRef<HTMLDialogElement>(null);
  useEffect(() => {
    if (listed.value && !dialog.current?.open) dialog.current?.showModal();
  }, [listed.value]);
  const toggle = (): void => {
    on.value = !on.value;
    localStorage.setItem(KEPT, on.value ? "on" : "off");
  };
  return (
    <>
      <button class="as-table" onClick={() => (listed.value = true)}>Keys</button>
      <dialog ref={dialog} aria-label="Keys" onClose={() => (listed.value = false)}>
        <h2>Keys</h2>
        <table>
          <tbody>
            {acts.map(({ key, name, does }) => <tr key={key}><th scope="row"><kbd>{name}</kbd></th><td>{does}</td></tr>)}
            <tr><th scope="row"><kbd>?</kbd></th><td>this list</td></tr>
          </tbody>
        </table>
        <label class="row"><input type="checkbox" checked={on.value} onChange={toggle} /> single keys act</label>
        <form method="dialog"><button class="btn first">Close</button></form>
      </dialog>
    </>
  );
}
