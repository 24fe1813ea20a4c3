/** The tags of a run: a person's words, pressed to find all runs that have them; "reference" names the run to compare with. */
import { useSignal } from "@preact/signals";
import type { JSX } from "preact";
import { REFERENCE, withTag } from "../core/runs";
import { writeTags } from "../feed/runs";

const TAG_MAX = 40;
const TAGS_MAX = 12;

interface Props {
  readonly run: string;
  readonly tags: readonly string[];
  readonly onFind: (words: string) => void;
  readonly onSaved: () => void;
}

export function RunTags({ run, tags, onFind, onSaved }: Props): JSX.Element {
  const typed = useSignal("");
  const trouble = useSignal("");
  const keep = (wanted: readonly string[]): void => {
    trouble.value = "";
    writeTags(run, wanted).then(() => { typed.value = ""; onSaved(); }, (error: Error) => { trouble.value = error.message; });
  };
  const add = (event: Event): void => {
    event.preventDefault();
    if (typed.value.trim()) keep(withTag(tags, typed.value));
  };
  return (
    <form class="tags" aria-label="Tags" onSubmit={add}>
      <span>Tags</span>
      {tags.map((tag) => (
        <span key={tag} class="tag">
          <button type="button" aria-label={`Find runs tagged ${tag}`} onClick={() => onFind(`#${tag}`)}>{tag}</button>
          <button type="button" class="away" aria-label={`Take the tag ${tag} away`} onClick={() => keep(tags.filter((each) => each !== tag))}>
            <svg viewBox="0 0 12 12" width="10" height="10" aria-hidden="true"><path class="cross" d="M2 2L10 10M10 2L2 10" /></svg>
          </button>
        </span>
      ))}
      {tags.length < TAGS_MAX && <input aria-label="Another tag" placeholder="another tag" maxLength={TAG_MAX} value={typed.value} onInput={(event) => (typed.value = event.currentTarget.value)} />}
      {typed.value.trim() && <button class="btn">Add</button>}
      {!tags.includes(REFERENCE) && tags.length < TAGS_MAX && !typed.value && <button type="button" class="as-table" onClick={() => keep(withTag(tags, REFERENCE))}>make it the reference run</button>}
      {trouble.value && <p class="trouble" role="alert">{trouble.value}</p>}
    </form>
  );
}
