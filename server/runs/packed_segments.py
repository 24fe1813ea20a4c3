"""The packed segments of a run that may be thinned, and how fast it grows. Reads only."""

import time
from pathlib import Path

from server.runs.layout import is_packed
from server.runs.log.store import LOG
from server.runs.packed_file import PackedFile
from server.runs.segments import begins_utc_s, segments
from server.runs.space import Packed
from server.runs.thinned_run import thinned_in

_NEWEST = 3  # segments by which the rate is known
_LEAST_S = 1.0


def packed_segments(run: Path, rig: str, closed: bool) -> list[Packed]:
    """Of a closed run all packed ones, of an open one all but the newest of all. Raises OSError."""
    there = segments(run)
    found = list[Packed]()
    for path in there if closed else there[:-1]:
        if not is_packed(path.name):
            continue
        with path.open("rb") as file:
            index = PackedFile(file).index
        if index is not None and index.places:
            size, begins = path.stat().st_size, index.places[0].utc_s
            found.append(Packed(run.name, path.name, rig, begins, size, bool(thinned_in(path))))
    return found


def bytes_per_s(run: Path) -> float:
    """How fast an open run takes room: as it is packed where that is known, else as it is written; with its log.

    Raises OSError.
    """
    there = segments(run)
    rates = [rate for path in there[-7:-1] if is_packed(path.name) and (rate := _packed_rate(path))][-_NEWEST:]
    if not rates and there:
        begins = begins_utc_s(there[-1])
        age_s = 0.0 if begins is None else time.time() - begins
        rates = [there[-1].stat().st_size / max(age_s, _LEAST_S)]
    begins = begins_utc_s(there[0]) if there else None
    log = run / LOG
    if begins is None or not log.exists():
        return max(rates, default=0.0)
    return max(rates, default=0.0) + log.stat().st_size / max(time.time() - begins, _LEAST_S)


def _packed_rate(path: Path) -> float:
    """Bytes per second of a packed segment; 0: it was thinned, or nobody knows."""
    with path.open("rb") as file:
        index = PackedFile(file).index
    if index is None or not index.places or thinned_in(path):
        return 0.0
    return path.stat().st_size / max(index.to_utc_s - index.places[0].utc_s, _LEAST_S)
