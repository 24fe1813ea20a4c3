"""Makes the log of a run again from its segments, by playing it: where there is none, where it is broken, and where the
run has closed and something is missing in it. The readings are the same as they were, bit for bit.
"""

import os
import sqlite3
import time
from collections.abc import Callable
from pathlib import Path

from server.pipeline import Pipeline
from server.runs.layout import Kind
from server.runs.log.reading import LogError
from server.runs.log.scribe import Scribe
from server.runs.log.store import BESIDE, LOG, OtherVersionError, Store, opened_to_read, set_aside
from server.runs.log.tables import TableReader
from server.runs.log.taken import taken
from server.runs.replay import Played, Replay
from server.runs.segments import last_entry
from server.runs.thinned_run import is_thinned
from server.whole_file import sync_folder

MAKING = "log.making.sqlite"
SETTLED_S = 10.0  # a log that was written so short a while ago may be about to be closed
_ENTRIES_A_WRITE = 500


Listener = Callable[[Played, Pipeline | None], None]  # what of a run that is played, and the pipeline it went through


def make_log(run: Path, was_broken: bool = False, heard: Listener = lambda each, pipeline: None) -> bool:
    """Whether it was made. Raises OSError and sqlite3.Error; what is there stays then.

    `heard`: given all that is played for it, in turn.
    `was_broken`: somebody found it so, while SQLite may find nothing: then the checksum of each row is asked too.
    Of a run that was thinned the log knows more than the segments: it is made only where there is none that is read.
    """
    last, path = last_entry(run), run / LOG
    closed = last is not None and last.entry.kind is Kind.CLOSE
    can_be_made = closed and not is_thinned(run)
    there = path.stat() if path.exists() else None
    broken = was_broken and can_be_made and _has_broken_row(run)
    if not broken:
        wanted, broken = _is_wanted(path, can_be_made)
        if not wanted:
            return False
    making = run / MAKING
    _remove(making)
    try:
        whole = _written(run, making, heard)
        _put(making, path, closed, there if broken or not whole else None)
    finally:
        _remove(making)
    sync_folder(run)
    return True


def _is_wanted(path: Path, closed: bool) -> tuple[bool, bool]:
    """Whether it is to be made, and whether the one that is there is broken."""
    if not path.exists():
        return True, False
    until_s = time.time() + SETTLED_S
    while True:
        try:
            is_whole = _is_whole(path)
        except OtherVersionError:
            return False, False
        except sqlite3.OperationalError:
            raise
        except sqlite3.DatabaseError:
            return True, True
        if is_whole or not closed or time.time() - _written_s(path) > SETTLED_S or time.time() > until_s:
            return not is_whole and closed, False
        time.sleep(0.5)


def _has_broken_row(run: Path) -> bool:
    return bool(_broken_row(run))


def broken_log(run: Path) -> str:
    """What is broken in the log of a run, all of which is read; empty: nothing, or there is none.

    Raises sqlite3.OperationalError where it cannot be read now.
    """
    if not (run / LOG).exists():
        return ""
    try:
        opened_to_read(run / LOG, wholly=True).close()
    except OtherVersionError:
        return ""
    except sqlite3.OperationalError:
        raise
    except sqlite3.DatabaseError as error:
        return f"the log of {run.name} is broken ({error})"
    return _broken_row(run)


def _broken_row(run: Path) -> str:
    try:
        with TableReader(run) as log:
            log.check()
    except LogError as error:
        return str(error) if error.broken else ""
    return ""


def _written_s(path: Path) -> float:
    """When something was last written to it, by the clock that dates files."""
    there = (path.with_name(path.name + ending) for ending in ("", *BESIDE))
    return max((each.stat().st_mtime for each in there if each.exists()), default=0.0)


def _is_whole(path: Path) -> bool:
    base = opened_to_read(path, wholly=True)
    try:
        meta = dict(base.execute("SELECT key, value FROM meta").fetchall())
    finally:
        base.close()
    return bool(meta.get("clean") and meta.get("closed") and not meta.get("incomplete"))


def _written(run: Path, making: Path, heard: Listener) -> bool:
    """Play the run into a new log; whether all of the run could be read."""
    store, replay, whole = Store(making), Replay(run), True
    try:
        scribe = Scribe(store)
        for k, each in enumerate(replay):
            pipeline = replay.pipeline
            heard(each, pipeline)
            if each.entry is None:
                whole = False
                continue
            found = taken(each.entry, each.output, "" if pipeline is None else pipeline.motor.type)
            if found is not None:
                scribe.take(found)
            if k % _ENTRIES_A_WRITE == 0:
                scribe.write()
        scribe.end()
    finally:
        store.close()
    return whole


def _put(making: Path, path: Path, closed: bool, aside: os.stat_result | None) -> None:
    """In its place. `aside`: the file that was there and is kept: it is broken, or may know more as a part of the
    run cannot be read. Not before now, so that it stays where none could be made."""
    if aside is not None and path.exists() and os.path.samestat(aside, path.stat()):
        set_aside(path)
    if not closed:
        os.link(making, path)  # never over one that was begun meanwhile
        return
    _remove(path, BESIDE)
    os.replace(making, path)


def _remove(path: Path, endings: tuple[str, ...] = ("", *BESIDE)) -> None:
    """A file that will be there no more, and what SQLite keeps beside it."""
    for ending in endings:
        path.with_name(path.name + ending).unlink(missing_ok=True)
