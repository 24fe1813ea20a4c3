"""What of a run cannot be read, segment by segment, and a fresh segment of what can. Nothing is deleted.

Reading passes damage by as it is; a repaired segment is read faster, and no copy of it carries the damage on. The
damaged file stays beside under another name. Whenever this ends, each segment is there, damaged or repaired.
"""

import os
import shutil
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path

from server.runs.layout import Kind, Numbered, Unreadable, is_packed, is_time, plain_name, record
from server.runs.library import summary_of
from server.runs.segments import entries, open_segment, segments
from server.whole_file import sync_folder

ASIDE_MAX = 100  # damaged files of one segment
_BEGINNING = ".repairing"


@dataclass(frozen=True, slots=True)
class Damaged:
    """A segment with damage: bytes that hold no record, in how many places, entries that can be read, and when the
    newest one before the first damage was (None: nothing stands before it)."""

    path: Path
    unreadable_bytes: int
    places: int
    readable: int
    behind_utc_s: float | None


def damaged_segments(run: Path) -> tuple[list[Damaged], Path | None]:
    """Those with damage, in turn; and the last one of a run that is not closed, which is not looked at.

    It may be written to now, and its end may be cut off. Raises OSError.
    """
    there = segments(run)
    open_one = there.pop() if there and summary_of(run).closed_utc_s is None else None
    return [found for path in there if (found := _damage(path)) is not None], open_one


def _damage(path: Path) -> Damaged | None:
    unreadable, places, readable, newest, behind = 0, 0, 0, None, None
    for each in entries(path):
        if isinstance(each, Unreadable):
            behind = behind if places else newest
            unreadable, places = unreadable + each.length, places + 1
        elif each.entry.kind is not Kind.SEGMENT:
            readable += 1
            newest = each.entry.utc_s if is_time(each.entry.utc_s) else newest
    return Damaged(path, unreadable, places, readable, behind) if places else None


def repair(path: Path) -> Path:
    """Put a segment of what can be read in the place of a damaged one; where that is kept now. Raises OSError."""
    run, plain = path.parent, path.with_name(plain_name(path.name))
    beside = plain.with_suffix(_BEGINNING)
    beside.unlink(missing_ok=True)  # ours, of a repair that was cut off
    file = open_segment(beside)
    try:
        for each in _readable(path):
            file.write(record(each.number, each.entry))
        file.sync()
    finally:
        file.close()
    aside = _kept_aside(path)
    os.replace(beside, plain)
    sync_folder(run)
    if is_packed(path.name):  # the plain one holds where both lie there
        path.unlink()  # its bytes stand under the other name
        sync_folder(run)
    return aside


def _readable(path: Path) -> Iterator[Numbered]:
    return (each for each in entries(path) if isinstance(each, Numbered))


def _kept_aside(path: Path) -> Path:
    """The same bytes under a name that none has; they stand under both then."""
    names = (path.with_suffix(f".damaged-{number}") for number in range(1, ASIDE_MAX))
    aside = next((name for name in names if not name.exists()), None)
    if aside is None:
        raise OSError(None, f"{ASIDE_MAX - 1} damaged files of it lie there already", str(path))
    try:
        os.link(path, aside)
    except OSError:  # a file system without links
        copy = path.with_suffix(".copying")
        shutil.copyfile(path, copy)
        with copy.open("rb+") as file:
            os.fsync(file.fileno())
        os.rename(copy, aside)
    sync_folder(path.parent)
    return aside
