"""What was given up of a run for room, as its segments tell it. Reads only, and each file once as long as it stays."""

from collections.abc import Iterator
from functools import lru_cache
from os import listdir
from pathlib import Path

from server.runs.layout import Numbered, is_packed
from server.runs.packed_file import PackedFile
from server.runs.packing.thinned import Thinned, thinned_of
from server.runs.segments import entries, segments

ACCOUNT_DUE = "account.due"  # lies beside while the account of the samples does not fit what is there
_DAMAGED = ".damaged-"  # in the name that repair.py gives a file in whose place it puts another
_KNOWN_MAX = 20_000  # segments that are remembered, as many as a run may have where it is sent


def thinned_in(path: Path) -> tuple[Thinned, ...]:
    """What was given up of one segment that is packed or repaired. Raises OSError."""
    its = path.stat()
    return _read(path, its.st_mtime_ns, its.st_size)


@lru_cache(_KNOWN_MAX)
def _read(path: Path, mtime_ns: int, size: int) -> tuple[Thinned, ...]:
    if is_packed(path.name):
        with path.open("rb") as file:
            return tuple(PackedFile(file).thinned())
    found = (thinned_of(each) for each in entries(path) if isinstance(each, Numbered))
    return tuple(each for each in found if each is not None)


def thinned_stretches(run: Path) -> Iterator[Thinned]:
    """What was given up of a run, in turn. Raises OSError."""
    repaired = {name.partition(_DAMAGED)[0] for name in listdir(run) if _DAMAGED in name}
    for path in segments(run):
        if is_packed(path.name) or path.stem in repaired:  # of plain ones a repaired one alone has such records
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
