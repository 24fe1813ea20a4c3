"""`python -m server.runs.sum_up RUN`: sums up a closed run and keeps what it found beside it, and its log where that
must be made again.

A program of its own, so that the service, which may be watching a motor, computes nothing twice: it is started with low
priority and ends itself when its standard input closes.
"""

import sqlite3
import sys
from collections.abc import Callable
from errno import EDQUOT, ENOSPC
from functools import partial
from math import inf
from pathlib import Path
from typing import Any

from server.pipeline import Pipeline
from server.runs.beside import read_digest, read_former_digest, size_of, write_digest
from server.runs.digest import EVENTS_MAX, Digest
from server.runs.in_child import begin_quietly, telling
from server.runs.library import summary_of
from server.runs.log.reading import LogError, LogReader
from server.runs.log.remake import Listener, make_log
from server.runs.replay import Played, Replay
from server.runs.segments import last_entry
from server.runs.thinned_run import is_thinned

NO_ROOM = "the disk is full"  # stands in what is said where that alone was in the way


def summed_up(run: Path, played: Callable[[float], None] = lambda utc_s: None) -> dict[str, Any]:
    """The run in short, by playing it as fast as it goes. Raises OSError if the folder cannot be read."""
    size, digest, replay = size_of(run), Digest(), Replay(run)  # the size first: what is added meanwhile is none of it
    for each in replay:
        _take(digest, played, each, replay.pipeline)
    return _record(run, digest, size)


def _take(digest: Digest, played: Callable[[float], None], each: Played, pipeline: Pipeline | None) -> None:
    if each.entry is None:
        digest.trouble(each.trouble)
    else:
        digest.take(each.entry, each.output, pipeline)
        played(each.entry.utc_s)


def _record(run: Path, digest: Digest, size: int) -> dict[str, Any]:
    told = _told_by_log(run) if is_thinned(run) else {}
    return {**digest.record(), **told, "bytes": size}


def _told_by_log(run: Path) -> dict[str, Any]:
    """What happened, by the log of a run that was thinned: it knows of stretches whose samples were given up."""
    try:
        with LogReader(run) as log:
            moments, half = sorted(log.moments_utc_s()), EVENTS_MAX // 2
            rows = log.told("events", 0.0, inf)
            if len(moments) > EVENTS_MAX:
                rows = rows[:half] + log.told("events", moments[-half], inf)[-half:]
    except LogError:
        return {}
    events = [told for each in rows if (told := _event(each)) is not None]
    return {"events": sorted(events, key=lambda each: float(each["utc_s"])), "events_count": len(moments)}


def _event(row: dict[str, Any]) -> dict[str, Any] | None:
    said = row["record"]
    if not isinstance(said, dict) or not {"kind", "text", "detail", "decisive"} <= said.keys():
        return None
    return {**{key: said[key] for key in ("kind", "text", "detail", "decisive")}, "utc_s": round(row["utc_s"], 3)}


def _log_made(run: Path, was_broken: bool, heard: Listener) -> tuple[bool, str]:
    """Make the log where it must be: whether it was, and why it could not be, or empty."""
    try:
        return make_log(run, was_broken, heard), ""
    except (OSError, sqlite3.Error) as error:
        return False, f"its log could not be made ({_why(error)})"


def _why(error: OSError | sqlite3.Error) -> str:
    if isinstance(error, OSError):
        return NO_ROOM if error.errno in (ENOSPC, EDQUOT) else error.strerror or str(error)
    return NO_ROOM if getattr(error, "sqlite_errorcode", None) == sqlite3.SQLITE_FULL else str(error)


def main(arguments: list[str]) -> int:
    """Exit code: 0 done, 1 it could not be."""
    begin_quietly()
    (run,) = map(Path, arguments)
    failed = ""
    try:
        kept, size = read_digest(run), size_of(run)
        fits = kept is not None and kept.get("bytes") == size
        ends, last = summary_of(run), last_entry(run)
        tell, digest = partial(telling, ends.opened_utc_s, last.entry.utc_s if last else ends.opened_utc_s), Digest()
        # Broken, why else is it asked for. First, as with its digest it is asked for no more; and what is played for
        # it is summed up at the same time: a night takes many minutes.
        made, failed = _log_made(run, fits, partial(_take, digest, tell()))
        if not fits:
            former = read_former_digest(run) if is_thinned(run) else None
            write_digest(run, former or (_record(run, digest, size) if made else summed_up(run, tell())))
    except OSError as error:
        failed = _why(error)
    if failed:
        print(failed, file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
