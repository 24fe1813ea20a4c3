"""A packed segment: blocks of the plain one behind each other, then where each is. Pure; RUN.md is the authority.

It is made of records like a plain one, with a magic of its own, so that what is whole is found behind what is broken.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from mmap import mmap
from struct import Struct

from server.runs.layout import (
    MAGIC_PACKED,
    RECORD_OVERHEAD,
    Entry,
    Kind,
    Numbered,
    is_time,
    record,
)
from server.runs.packing.block import PLAIN_BYTES_MAX, deflated, packed, records_of, unpacked

FORMAT = 1
BLOCK_S = 5.0  # what one flipped bit costs, and what is unpacked to look at one place
BLOCK_BYTES_MIN = 1 << 14  # of plain bytes: below it a block's own frame would tell
END_BYTES = 12  # the last bytes of the file: where the index begins, and the checksum of the index
_NUMBER_MAX = (1 << 64) - 1
_BLOCK = Struct("<QI")  # of a block: where it stood in the plain segment, how long
_PLACE = Struct("<QQQd")  # of a block: where it stands here and there, number of its first entry, when that was
_END = Struct("<QQdQ")  # bytes of the plain segment, number of the next entry, last time, its own place


@dataclass(frozen=True, slots=True)
class Place:
    """A block: where its record stands, and from where on in the plain segment: byte, number of the entry, time."""

    offset: int
    plain_offset: int
    number: int
    utc_s: float


@dataclass(frozen=True, slots=True)
class Index:
    """Of a packed segment. `next_number`: above those of all its entries, and of those that were lost before it."""

    places: tuple[Place, ...]
    plain_bytes: int
    next_number: int
    to_utc_s: float


@dataclass(frozen=True, slots=True)
class _Stretch:
    start: int
    end: int
    number: int
    utc_s: float
    last: Numbered  # the newest entry up to its end
    next_number: int  # above those of all records up to there
    records: list[Numbered] | None  # in it; None: it was cut through one


_NONE = Numbered(0, Entry(Kind.SEGMENT, 0.0, b""))


def pack(plain: bytes | mmap, apart: bool = True) -> Iterator[bytes]:
    """The bytes of a packed segment, block by block. `apart` False: blocks are only deflated."""
    places, offset, last, count = list[Place](), 0, _NONE, 0
    for stretch in _stretches(plain):
        places.append(Place(offset, stretch.start, stretch.number, stretch.utc_s))
        head, last = _BLOCK.pack(stretch.start, stretch.end - stretch.start), stretch.last
        count = stretch.next_number
        content = plain[stretch.start : stretch.end]
        data = head + (packed(content, stretch.records, stretch.start) if apart else deflated(content))
        made = record(stretch.number, Entry(Kind.BLOCK, stretch.utc_s, data), MAGIC_PACKED)
        offset += len(made)
        yield made
    yield index_record(Index(tuple(places), len(plain), count, last.entry.utc_s), offset)


def index_record(index: Index, offset: int) -> bytes:
    """The index, last in a file. `offset`: where it begins."""
    rows = b"".join(_PLACE.pack(each.offset, each.plain_offset, each.number, each.utc_s) for each in index.places)
    end = _END.pack(index.plain_bytes, index.next_number, index.to_utc_s, offset)
    return record(FORMAT, Entry(Kind.INDEX, index.to_utc_s, rows + end), MAGIC_PACKED)


def index_at(end: bytes) -> int:
    """Where the index begins, by the last END_BYTES of a file; anything, if that is no packed segment."""
    return int.from_bytes(end[:8], "little")


def index_of(data: bytes) -> Index | None:
    """The index in the bytes from its beginning to the file's end; None where it is broken or of a newer format."""
    found = next(records_of(data, MAGIC_PACKED), None)
    if not isinstance(found, Numbered) or found.entry.kind is not Kind.INDEX or found.number != FORMAT:
        return None
    payload = found.entry.payload
    if len(payload) < _END.size or (len(payload) - _END.size) % _PLACE.size:
        return None
    plain_bytes, count, to_utc_s, _ = _END.unpack_from(payload, len(payload) - _END.size)
    places = tuple(Place(*row) for row in _PLACE.iter_unpack(payload[: -_END.size]))
    return Index(places, plain_bytes, count, to_utc_s)


def block_of(numbered: Numbered) -> tuple[int, bytes] | None:
    """Where a block stood in the plain segment, and its plain bytes; None where they cannot be taken out."""
    payload = numbered.entry.payload
    if numbered.entry.kind is not Kind.BLOCK or len(payload) < _BLOCK.size:
        return None
    offset, length = _BLOCK.unpack_from(payload)
    try:
        return offset, unpacked(payload[_BLOCK.size :], length)
    except ValueError:
        return None


def _stretches(plain: bytes | mmap) -> Iterator[_Stretch]:
    """Where the plain bytes are cut: before a record, where one begins in time."""
    start, begun, last, following, records = 0, _NONE, _NONE, 0, list[Numbered]()

    def cut(end: int) -> Iterator[_Stretch]:
        """One stretch, or as many as it takes where it holds what is no record, or a long one."""
        first, whole = last if begun is _NONE else begun, end - start <= PLAIN_BYTES_MAX
        for at in range(start, end, PLAIN_BYTES_MAX):
            stop, number = min(end, at + PLAIN_BYTES_MAX), min(following, _NUMBER_MAX)
            yield _Stretch(at, stop, first.number, first.entry.utc_s, last, number, records if whole else None)

    for each in records_of(plain):
        if not isinstance(each, Numbered):
            continue
        ends = each.offset + RECORD_OVERHEAD + len(each.entry.payload)
        long = begun is not _NONE and each.entry.utc_s - begun.entry.utc_s >= BLOCK_S
        alone = Kind.THINNED in (each.entry.kind, *(last.entry.kind for last in records[-1:]))  # found by block heads
        if ends - start > PLAIN_BYTES_MAX or alone or (long and each.offset - start >= BLOCK_BYTES_MIN):
            yield from cut(each.offset)
            start, begun, records = each.offset, _NONE, []
        is_entry = each.entry.kind is not Kind.SEGMENT  # whose head has the number of the next one
        following = max(following, each.number + is_entry)
        records.append(each)
        if is_entry and is_time(each.entry.utc_s):
            last = each
            begun = each if begun is _NONE else begun
    yield from cut(len(plain))
