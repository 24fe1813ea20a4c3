"""The packed segments of a run that may be thinned, and how fast it grows. Reads only."""

from collections.abc import Sequence
from pathlib import Path

from server.runs.layout import is_packed
from server.runs.log.store import LOG
from server.runs.packed_file import PackedFile
from server.runs.segments import begins_utc_s, segments
from server.runs.space import Packed
from server.runs.thinned_run import thinned_in

_NEWEST = 6  # segments by which the rate is known
RATE_S_MIN = 10.0  # of a shorter stretch no rate is taken: a start, or what was written again, takes more


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
            found.append(Packed(run.name, path.name, rig, begins, index.to_utc_s, size, bool(thinned_in(path))))
    return found


def bytes_per_s(run: Path, now_utc_s: float) -> float | None:
    """How fast an open run takes room: as it is packed where that is known, else as it is written; with its log.

    `now_utc_s`: by the service's clock, which dated what is written now. None: not known yet. Raises OSError.
    """
    there = segments(run)
    rate = _packed_rate(there[-_NEWEST - 1 : -1])
    if rate is None:
        plain = there[next((k + 1 for k in reversed(range(len(there))) if is_packed(there[k].name)), 0) :]
        rate = _rate(sum(path.stat().st_size for path in plain), begins_utc_s(plain[0]) if plain else None, now_utc_s)
    if rate is None:
        return None
    log = run / LOG
    logged = _rate(log.stat().st_size, begins_utc_s(there[0]), now_utc_s) if log.exists() else None
    return rate + (logged or 0.0)


def _packed_rate(there: Sequence[Path]) -> float | None:
    """Bytes per second of packed segments as they are before anything of them is given up."""
    size, lasts_s = 0, 0.0
    for path in there:
        if not is_packed(path.name) or thinned_in(path):
            continue
        with path.open("rb") as file:
            index = PackedFile(file).index
        if index is not None and index.places:
            size, lasts_s = size + path.stat().st_size, lasts_s + max(0.0, index.to_utc_s - index.places[0].utc_s)
    return size / lasts_s if lasts_s >= RATE_S_MIN else None


def _rate(size: int, since_utc_s: float | None, now_utc_s: float) -> float | None:
    lasts_s = 0.0 if since_utc_s is None else now_utc_s - since_utc_s
    return size / lasts_s if lasts_s >= RATE_S_MIN else None
