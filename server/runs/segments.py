"""Files of runs: open for appending, list, read. The only place that opens them; an old file is never written to."""

import os
from collections import deque
from collections.abc import Callable, Iterator, Sequence
from contextlib import contextmanager
from itertools import islice
from math import inf
from pathlib import Path
from typing import BinaryIO, Protocol, TypeAlias

from server.runs.layout import (
    RECORD_BYTES_MAX,
    SEGMENT_READ_BYTES_MAX,
    Kind,
    Numbered,
    Records,
    Unreadable,
    is_packed,
    packed_name,
    segment_name,
    segment_number,
)
from server.runs.packed_file import PackedFile
from server.whole_file import sync_folder

READ_AT_ONCE = 1 << 20
AGAIN_BYTES_MAX = 32 << 20  # twice what is ever written again
FIRST_BYTES_MAX = RECORD_BYTES_MAX + READ_AT_ONCE  # in which the first records are, whatever stands in the file
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
    """The segments of a run in turn, each plain or packed: files alone, for what else has such a name may never end.

    Where a packed one lies beside the plain one, packing was cut off, and the plain one holds. Raises OSError.
    """
    there = [path for path in run.iterdir() if path.is_file() and not path.is_symlink()]
    numbered = [(number, path) for path in there if (number := segment_number(path.name)) is not None]
    packed_first = sorted(numbered, key=lambda each: (each[0], not is_packed(each[1].name)))
    return list(dict(packed_first).values())


def next_segment(run: Path) -> Path:
    """Where the next segment goes: behind all that are there, whatever they are."""
    there = [segment_number(path.name) or 0 for path in run.iterdir()]
    return run / segment_name(max(there, default=0) + 1)


def entries(path: Path, from_utc_s: float | None = None) -> Iterator[Numbered | Unreadable]:
    """What a segment holds, in turn, whatever stands in it. Raises OSError.

    `from_utc_s`: what came well before this moment may be passed by, where that saves reading it.
    """
    with _opened(path) as (file, packed):
        if packed:
            yield from PackedFile(file).entries(from_utc_s)
        else:
            yield from _all(file)


@contextmanager
def _opened(path: Path) -> Iterator[tuple[BinaryIO, bool]]:
    """The segment's file, and whether it is packed: it may have been packed since its name was read."""
    if not is_packed(path.name):
        try:
            with path.open("rb") as file:
                yield file, False
            return
        except FileNotFoundError:
            path = path.with_name(packed_name(path.name))
    with path.open("rb") as file:
        yield file, True


def _all(file: BinaryIO, bytes_max: float = inf) -> Iterator[Numbered | Unreadable]:
    records, left = Records(), bytes_max
    while left > 0 and (data := file.read(READ_AT_ONCE)):
        yield from records.feed(data)
        left -= len(data)
    yield from records.end()


def first_entries(path: Path, count: int) -> list[Numbered]:
    """The first few entries of a segment, as far as they stand in its first FIRST_BYTES_MAX: a file that is made long
    and holds none costs no more. Raises OSError."""
    with _opened(path) as (file, packed):
        there = PackedFile(file).entries() if packed else _all(file, FIRST_BYTES_MAX)
        return list(islice((each for each in there if isinstance(each, Numbered)), count))


def first_number(path: Path) -> int | None:
    """The number of the first entry in a segment; None: there is none that can be read. Raises OSError."""
    with _opened(path) as (file, packed):
        index = PackedFile(file).index if packed else None
    if index is not None and index.places:
        return index.places[0].number
    return next((each.number for each in first_entries(path, 2) if each.entry.kind is not Kind.SEGMENT), None)


def written_again(later: Sequence[Path], first: int, stop: int) -> list[Numbered]:
    """Entries with numbers from `first` up to `stop`, as far as they stand in later segments. Raises OSError.

    Where a sync failed all that it should have confirmed is written again. Of the first copy a power cut may leave the
    end alone, so what is missing before that is looked for here.
    """
    found, size = dict[int, Numbered](), 0
    for path in later:
        for each in entries(path):
            if isinstance(each, Unreadable) or each.entry.kind in (Kind.SEGMENT, Kind.THINNED):
                continue
            if each.number >= stop or size > AGAIN_BYTES_MAX or len(found) == stop - first:
                break
            if each.number >= first and each.number not in found:
                found[each.number] = each
                size += len(each.entry.payload)
    return [found[number] for number in sorted(found)]


def begins_utc_s(path: Path) -> float | None:
    """When the first entry of a segment was; None: it has none that can be read. Raises OSError."""
    with _opened(path) as (file, packed):
        index = PackedFile(file).index if packed else None
    if index is not None and index.places:
        return index.places[0].utc_s
    times = [each.entry.utc_s for each in first_entries(path, 2) if each.entry.kind is not Kind.SEGMENT]
    return times[0] if times else None


def plain_bytes(path: Path) -> int:
    """How long a segment is as it was written, packed or not. Raises OSError."""
    with _opened(path) as (file, packed):
        index = PackedFile(file).index if packed else None
        return file.seek(0, os.SEEK_END) if index is None else index.plain_bytes


def last_entry(run: Path) -> Numbered | None:
    """The entry of a run with the highest number. Raises OSError.

    It need not be in the last segment: what had to be written again may have been cut off before it came so far.
    """
    last: Numbered | None = None
    for path in reversed(segments(run)):
        with _opened(path) as (file, packed):
            found = _last_packed(PackedFile(file), last) if packed else _last_record(file)
        if found and found.entry.kind is not Kind.SEGMENT and (last is None or found.number > last.number):
            last = found
    return last


def _last_packed(file: PackedFile, known: Numbered | None) -> Numbered | None:
    """The last entry of a packed segment; one that is known to be before another is not even unpacked."""
    if file.index is not None and known is not None and file.index.next_number <= known.number:
        return None
    return file.last()


def next_number(run: Path) -> int:
    """The number of the next entry of a run; none in any segment has it, and none that was lost had it. OSError."""
    known = [number for path in segments(run) if (number := _next_in(path)) is not None]
    last = last_entry(run)
    return max([*known, 0 if last is None else last.number + 1])


def _next_in(path: Path) -> int | None:
    """The number of the next entry where a segment began, as its head says; where it is packed, where it ended."""
    with _opened(path) as (file, packed):
        index = PackedFile(file).index if packed else None
    if index is not None:
        return index.next_number
    heads = [each.number for each in first_entries(path, 1) if each.entry.kind is Kind.SEGMENT]
    return heads[0] if heads else None


def _last_record(file: BinaryIO) -> Numbered | None:
    """The last record of a segment; looks at its end first, at more of it if there is none, at most at what one has."""
    size = file.seek(0, os.SEEK_END)
    tail = TAIL_BYTES
    while True:
        file.seek(max(0, size - tail))
        found = deque((each for each in _all(file) if isinstance(each, Numbered)), maxlen=1)
        if found or tail >= min(size, SEGMENT_READ_BYTES_MAX):
            return found[0] if found else None
        tail *= 16
