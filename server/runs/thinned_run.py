"""What was given up of a run for room, as its packed segments tell it. Reads only."""

from collections.abc import Iterator
from pathlib import Path

from server.runs.layout import is_packed
from server.runs.packed_file import PackedFile
from server.runs.packing.thinned import Thinned, thinned_of
from server.runs.segments import segments

ACCOUNT_DUE = "account.due"  # lies beside while the account of the samples does not fit what is there


def thinned_in(path: Path) -> list[Thinned]:
    """What was given up of one packed segment. Raises OSError."""
    with path.open("rb") as file:
        there = PackedFile(file)
        found = (there.record_at(place) for place in (there.index.places if there.index else ()))
        return [thinned for each in found if each is not None and (thinned := thinned_of(each)) is not None]


def thinned_stretches(run: Path) -> Iterator[Thinned]:
    """What was given up of a run, in turn. Raises OSError."""
    for path in segments(run):
        if is_packed(path.name):
            yield from thinned_in(path)


def is_thinned(run: Path) -> bool:
    """Whether anything of it was given up. Raises OSError."""
    return next(thinned_stretches(run), None) is not None


def thinned_words(run: Path) -> str:
    """What was given up, as a person reads it; empty: nothing, or nobody can read it, which is told elsewhere."""
    try:
        there = list(thinned_stretches(run))
    except OSError:
        return ""
    if not there:
        return ""
    hours = sum(max(0.0, each.to_utc_s - each.from_utc_s) for each in there) / 3600.0
    length = f"{hours:.1f} h" if hours >= 1.0 else f"{60.0 * hours:.0f} min"
    return f"Raw samples of {length} were thinned by the plan of {there[-1].plan}."
