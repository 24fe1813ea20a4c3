"""What happened in a run, as the few words of a list: what is out of the ordinary first, starts last. Pure.

Takes the events as records, so that it serves runs that were summed up and those that are being recorded alike.
"""

from collections import Counter
from collections.abc import Mapping, Sequence

# How a person tells several of a kind together. What is not here is told by the text of its event.
_ONE_MANY = {
    "stalled": ("stalled", "stalled {} times"),
    "reversed": ("reversed", "reversed {} times"),
    "board_reset": ("board started anew", "board started anew {} times"),
    "clipping": ("clipped", "clipped {} times"),
    "load_step": ("load changed", "load changed {} times"),
    "power_on": ("one start", "{} starts"),
}
_ROUTINE = ("power_on",)  # told where there is nothing else
# Part of every run; gaps are told by their length.
_SILENT = ("gap", "power_off", "running", "stopped", "coasting", "mark")
WORDS_MAX = 3
GAP_TOLD_S = 0.05


def happened(
    events: Sequence[Mapping[str, object]], gaps_s: float = 0.0, of_all: Mapping[str, int] | None = None
) -> list[str]:
    """A few phrases, the rarest first. `events`: records with `kind` and `text`; `gaps_s`: time without samples;
    `of_all`: how often each kind came, where not all events are kept."""
    told = [each for each in events if each["kind"] not in _SILENT]
    kept = Counter(str(each["kind"]) for each in told)
    counts = {kind: max(count, (of_all or {}).get(kind, 0)) for kind, count in kept.items()}
    texts = {str(each["kind"]): str(each["text"]) for each in reversed(told)}
    odd = sorted((kind for kind in counts if kind not in _ROUTINE), key=lambda kind: counts[kind])
    phrases = [_phrase(kind, counts[kind], texts[kind]) for kind in odd]
    if gaps_s >= GAP_TOLD_S:
        phrases.insert(0, f"{gaps_s:.1f} s without samples" if gaps_s < 10 else f"{gaps_s:.0f} s without samples")
    return (phrases or [_phrase(kind, counts[kind], texts[kind]) for kind in _ROUTINE if kind in counts])[:WORDS_MAX]


def _phrase(kind: str, count: int, text: str) -> str:
    plain = text[:1].lower() + text[1:] if text[1:2].islower() else text  # within a line, as a part of it
    one, many = _ONE_MANY.get(kind, (plain, plain.replace("{", "").replace("}", "") + ", {} times"))
    return one if count == 1 else many.format(count).replace(" 2 times", " twice")
