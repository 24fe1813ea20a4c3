"""What was given up of a run for room, as its segments tell it. Reads only, and each file once as long as it stays."""

from collections.abc import Iterator
from functools import lru_cache
from pathlib import Path

from server.runs.layout import Numbered, is_packed
from server.runs.packed_file import PackedFile
from server.runs.packing.thinned import Thinned, thinned_of
from server.runs.segments import entries, segments

ACCOUNT_DUE = "account.due"  # lies beside while the account of the samples does not fit what is there
_KNOWN_MAX = 20_000  # segments that are remembered, as many as a run may have where it is sent


def thinned_in(path: Path) -> tuple[Thinned, ...]:
    """What was given up of one segment. Raises OSError."""
    its = path.stat()
    return _thinned_in(path, its.st_mtime_ns, its.st_size)


@lru_cache(_KNOWN_MAX)
def _thinned_in(path: Path, mtime_ns: int, size: int) -> tuple[Thinned, ...]:
    if is_packed(path.name):
        with path.open("rb") as file:
            return tuple(PackedFile(file).thinned())
    if not any(path.parent.glob(f"{path.stem}.damaged-*")):  # only a repaired one has such records
        return ()
    found = (thinned_of(each) for each in entries(path) if isinstance(each, Numbered))
    return tuple(each for each in found if each is not None)


def thinned_stretches(run: Path) -> Iterator[Thinned]:
    """What was given up of a run, in turn. Raises OSError."""
    for path in segments(run):
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
