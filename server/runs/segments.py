"""Files of runs: open for appending, list, read. The only place that opens them; an old file is never written to."""

import os
from collections import deque
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import BinaryIO, Protocol, TypeAlias

from server.runs.layout import Kind, Numbered, Records, Unreadable, segment_name, segment_number
from server.whole_file import sync_folder

READ_AT_ONCE = 1 << 20
TAIL_BYTES = 1 << 16  # of a segment's end: nearly always enough to find its last record


class SegmentFile(Protocol):
    """A segment that is being written. Each method may raise OSError; after that the file is never used again."""

    def write(self, data: bytes) -> None:
        """All of the bytes."""

    def sync(self) -> None:
        """What was written is on the disk when this returns."""

    def close(self) -> None: ...


OpenSegment: TypeAlias = Callable[[Path], SegmentFile]


class _File:
    def __init__(self, path: Path) -> None:
        # Never an existing one: a segment is written once.
        self._fd = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_EXCL | os.O_APPEND, 0o600)
        try:
            sync_folder(path.parent)
        except OSError:
            os.close(self._fd)
            path.unlink()  # nothing stands in it; else each further attempt would leave one more
            raise

    def write(self, data: bytes) -> None:
        view = memoryview(data)
        while view:
            view = view[os.write(self._fd, view) :]

    def sync(self) -> None:
        getattr(os, "fdatasync", os.fsync)(self._fd)  # not every system has fdatasync

    def close(self) -> None:
        os.close(self._fd)


def open_segment(path: Path) -> SegmentFile:
    """A new file for appending. Raises OSError, FileExistsError too."""
    return _File(path)


def segments(run: Path) -> list[Path]:
    """The segments of a run in turn: files alone, for what else has such a name may never end. Raises OSError."""
    there = [path for path in run.iterdir() if path.is_file() and not path.is_symlink()]
    numbered = [(number, path) for path in there if (number := segment_number(path.name)) is not None]
    return [path for _, path in sorted(numbered)]


def next_segment(run: Path) -> Path:
    """Where the next segment goes: behind all that are there, whatever they are."""
    there = [segment_number(path.name) or 0 for path in run.iterdir()]
    return run / segment_name(max(there, default=0) + 1)


def entries(path: Path) -> Iterator[Numbered | Unreadable]:
    """What a segment holds, in turn, whatever stands in it. Raises OSError."""
    with path.open("rb") as file:
        yield from _all(file)


def _all(file: BinaryIO) -> Iterator[Numbered | Unreadable]:
    records = Records()
    while data := file.read(READ_AT_ONCE):
        yield from records.feed(data)
    yield from records.end()


def first_entries(path: Path, count: int) -> list[Numbered]:
    """The first few entries of a segment. Raises OSError."""
    found: list[Numbered] = []
    for each in entries(path):
        if isinstance(each, Numbered):
            found.append(each)
        if len(found) == count:
            break
    return found


def last_entry(run: Path) -> Numbered | None:
    """The entry of a run with the highest number. Raises OSError.

    It need not be in the last segment: what had to be written again may have been cut off before it came so far.
    """
    last = [each for path in segments(run) if (each := _last_record(path)) and each.entry.kind is not Kind.SEGMENT]
    return max(last, key=lambda each: each.number, default=None)


def next_number(run: Path) -> int:
    """The number of the next entry of a run; none in any segment has it, and none that was lost had it. OSError."""
    firsts = [each for path in segments(run) for each in first_entries(path, 1)]
    heads = [each.number for each in firsts if each.entry.kind is Kind.SEGMENT]
    last = last_entry(run)
    return max([*heads, 0 if last is None else last.number + 1])


def _last_record(path: Path) -> Numbered | None:
    """The last record of a segment; looks at its end first, at more of it if there is none."""
    with path.open("rb") as file:
        size = file.seek(0, os.SEEK_END)
        tail = TAIL_BYTES
        while True:
            file.seek(max(0, size - tail))
            found = deque((each for each in _all(file) if isinstance(each, Numbered)), maxlen=1)
            if found or tail >= size:
                return found[0] if found else None
            tail *= 16
