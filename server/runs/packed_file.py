"""A packed segment that is read: from its beginning, from a moment on, or its last entry alone. Never written to."""

import os
from collections import deque
from collections.abc import Iterator, Sequence
from typing import BinaryIO

from server.runs.layout import (
    HEAD_BYTES,
    MAGIC_PACKED,
    RECORD_BYTES_MAX,
    RECORD_OVERHEAD,
    SEGMENT_READ_BYTES_MAX,
    Kind,
    Numbered,
    Records,
    Unreadable,
    kind_and_length,
)
from server.runs.packing.block import records_of
from server.runs.packing.thinned import ALONE_BYTES_MAX, Thinned, thinned_of, thinned_told
from server.runs.packing.whole import END_BYTES, Index, Place, block_of, index_at, index_of

READ_AT_ONCE = 1 << 20


class PackedFile:
    """Of an open file. `index` None: it is broken, so the file is gone through for its blocks, as far as a segment can
    be long. Raises OSError."""

    def __init__(self, file: BinaryIO) -> None:
        self._file = file
        self._size = file.seek(0, os.SEEK_END)
        self.index = self._index()

    def plain(self, from_utc_s: float | None = None) -> Iterator[bytes | Thinned | Unreadable]:
        """The bytes of the plain segment in turn, whole blocks, from the one on that holds a moment.

        In place of what was given up a Thinned, of what is damaged an Unreadable; one of no bytes: nobody knows what
        stood from there on.
        """
        places = self._places(from_utc_s)
        due = places[0].plain_offset if places else 0
        for offset, data in self._blocks(places):
            if offset > due:
                yield Unreadable(due, offset - due)
            elif offset < due:
                continue  # it came before: made so
            yield data
            due = offset + (data.length if isinstance(data, Thinned) else len(data))
        if self.index is None or due < self.index.plain_bytes:
            yield Unreadable(due, 0 if self.index is None else self.index.plain_bytes - due)

    def entries(self, from_utc_s: float | None = None) -> Iterator[Numbered | Unreadable]:
        """What the plain segment held, in turn, with its places there; of what was given up its THINNED.

        `from_utc_s`: as in `plain`.
        """
        places = self._places(from_utc_s)
        records = Records(offset=places[0].plain_offset if places else 0)
        for piece in self.plain(from_utc_s):
            if isinstance(piece, bytes):
                yield from records.feed(piece)
                continue
            yield from records.end()
            yield piece.numbered if isinstance(piece, Thinned) else piece
            records = Records(offset=piece.offset + piece.length)
        yield from records.end()

    def last(self) -> Numbered | None:
        """The last entry that is there; the segment's own head is none."""
        backwards: list[tuple[Place, ...]] = [(place,) for place in reversed(self._places(None))]
        for places in backwards or [()]:
            blocks = (data for _, data in self._blocks(places) if isinstance(data, bytes))
            found = (each for data in blocks for each in records_of(data))
            entries = (each for each in found if isinstance(each, Numbered) and each.entry.kind is not Kind.SEGMENT)
            if last := deque(entries, maxlen=1):
                return last[0]
        return None

    def _places(self, from_utc_s: float | None) -> tuple[Place, ...]:
        places = () if self.index is None else self.index.places
        if from_utc_s is None:
            return places
        return places[next((k for k in reversed(range(len(places))) if places[k].utc_s <= from_utc_s), 0) :]

    def _blocks(self, places: Sequence[Place]) -> Iterator[tuple[int, bytes | Thinned]]:
        """Whole blocks at these places, all that there are where none is known: place in the plain segment, bytes."""
        found = (self.record_at(place) for place in places) if self.index is not None else self._all()
        for numbered in found:
            if numbered is None:
                continue
            if (thinned := thinned_of(numbered)) is not None:
                yield thinned.offset, thinned
            elif (block := block_of(numbered)) is not None:
                yield block

    def thinned(self) -> list[Thinned]:
        """What was given up of it; of blocks the heads alone are read, but where the index is broken."""
        if self.index is None:
            return [each for numbered in self._all() for each in thinned_told(numbered)]
        found = (self.record_at(place) for place in self.index.places if self._may_tell(place))
        return [each for numbered in found if numbered is not None for each in thinned_told(numbered)]

    def _may_tell(self, place: Place) -> bool:
        self._file.seek(min(place.offset, self._size))
        kind, length = kind_and_length(self._file.read(HEAD_BYTES))
        return kind == Kind.THINNED or length <= ALONE_BYTES_MAX

    def record_at(self, place: Place) -> Numbered | None:
        """The record of a block, or of what was given up; None where it is damaged."""
        return self._at(place.offset)

    def _at(self, offset: int) -> Numbered | None:
        """The record that begins here."""
        self._file.seek(min(offset, self._size))
        head = self._file.read(RECORD_OVERHEAD)
        _, length = kind_and_length(head)
        if length > RECORD_BYTES_MAX:
            return None
        found = next(records_of(head + self._file.read(length), MAGIC_PACKED), None)
        return found if isinstance(found, Numbered) else None

    def _all(self) -> Iterator[Numbered]:
        self._file.seek(0)
        records = Records(MAGIC_PACKED)
        while self._file.tell() < SEGMENT_READ_BYTES_MAX and (data := self._file.read(READ_AT_ONCE)):
            yield from (each for each in records.feed(data) if isinstance(each, Numbered))
        yield from (each for each in records.end() if isinstance(each, Numbered))

    def _index(self) -> Index | None:
        self._file.seek(max(0, self._size - END_BYTES))
        offset = index_at(self._file.read(END_BYTES))
        if not 0 <= self._size - offset <= RECORD_BYTES_MAX + RECORD_OVERHEAD:
            return None
        self._file.seek(offset)
        return index_of(self._file.read())
