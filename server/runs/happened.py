"""What happened in a run, as the few words of a list: the worst first, then what is out of the ordinary. Pure.

Takes the events as records, so that it serves runs that were summed up and those that are being recorded alike.
"""

from collections import Counter
from collections.abc import Mapping, Sequence

# How a person tells one and several of a kind; "": one is told by its text. What is not here is told by its text: two
# of a kind that say different things are not the same thing twice.
_ONE_MANY = {
    "stalled": ("stalled", "stalled {} times"),
    "reversed": ("reversed", "reversed {} times"),
    "board_reset": ("board started anew", "board started anew {} times"),
    "clipping": ("clipped", "clipped {} times"),
    "load_step": ("load changed", "load changed {} times"),
    "voltage_dip": ("", "voltage dipped {} times"),
    "voltage_swell": ("", "voltage rose {} times"),
    "power_on": ("one start", "{} starts"),
}
_ROUTINE = "power_on"  # told where there is nothing else
_WORST = ("stalled", "alarm", "gap")  # before all that is only rare, however often they came
# Part of every run, or of an alarm: those are told as they were kept with the run; gaps are told by their length.
_SILENT = {"gap", "power_off", "running", "stopped", "coasting", "mark"}
_SILENT |= {"alarm_raised", "alarm_acknowledged", "alarm_ended", "alarm_shelved"}
WORDS_MAX = 3
GAP_TOLD_S = 0.05


def happened(
    events: Sequence[Mapping[str, object]],
    gaps_s: float = 0.0,
    of_all: Mapping[str, int] | None = None,
    raised: Mapping[str, int] | None = None,
) -> list[str]:
    """A few phrases, the worst first, then the rarest. `events`: records with `kind` and `text`; `gaps_s`: time without
    samples; `of_all`: how often each kind came, where not all events are here; `raised`: how often each alarm, by its
    words."""
    of_all = of_all or {}
    told = [(str(each["kind"]), str(each["text"])) for each in events if each["kind"] not in _SILENT]
    alike = Counter((kind, "" if kind in _ONE_MANY else text) for kind, text in told)
    alike.update({(kind, ""): 0 for kind in _ONE_MANY if kind in of_all})
    here, sorts, first = Counter(kind for kind, _ in told), Counter(kind for kind, _ in alike), dict(reversed(told))
    phrases = [(n, text.partition(" ")[0], _phrase("", n, text, "")) for text, n in (raised or {}).items()]
    for (kind, text), count in alike.items():
        others = max(0, of_all.get(kind, 0) - here[kind])  # nobody says of which sort they were
        count, least = (count, "at least " * bool(others)) if sorts[kind] > 1 else (count + others, "")
        phrases.append((count, kind, _phrase(kind, count, text or first.get(kind, ""), least)))
    if gaps_s >= GAP_TOLD_S:
        told_s = f"{gaps_s:.1f}" if gaps_s < 10 else f"{gaps_s:.0f}"
        phrases.append((1, "gap", f"{told_s} s without samples"))
    phrases.sort(key=lambda each: (_WORST.index(each[1]) if each[1] in _WORST else len(_WORST), each[0]))
    odd = [phrase for _, kind, phrase in phrases if kind != _ROUTINE]
    return (odd or [phrase for _, _, phrase in phrases])[:WORDS_MAX]


def _phrase(kind: str, count: int, text: str, least: str) -> str:
    plain = text[:1].lower() + text[1:] if text[1:2].islower() else text  # within a line, as a part of it
    one, many = _ONE_MANY.get(kind, ("", plain.replace("{", "").replace("}", "") + ", {} times"))
    said = (one or plain or many.format(1)) if count == 1 and not least else many.format(f"{least}{count}")
    return said.replace(" 1 times", " once").replace(" 2 times", " twice")
