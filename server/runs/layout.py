"""How a run lies on disk: entries, their records in a segment file, names. Pure; RUN.md is the authority.

Records are only ever appended. Each has a checksum and a number that goes on over all segments of a run, so that what
is missing or stands twice is known. Whatever stands in a file, reading it raises nothing.
"""

import re
from collections import Counter
from collections.abc import Iterable, Iterator
from dataclasses import dataclass, field
from datetime import UTC, datetime
from enum import IntEnum
from struct import Struct

from server.runs.crc import crc32

FORMAT = 1
UTC_S_MAX = 253_402_300_800  # the year 10000: no calendar goes on
RECORD_BYTES_MAX = 16 << 20  # of one entry; a longer length in a file is damage
SEGMENT_READ_BYTES_MAX = 256 << 20  # one ends at 64 MiB and with what waited for the disk then: a longer file is none
MAGIC = b"\xf0SLR"
MAGIC_PACKED = b"\xf0SLP"  # of the records of a packed segment
_HEAD = Struct("<4sBxxxIQd")  # magic, kind, payload length, number, UTC seconds
_CRC = Struct("<I")
HEAD_BYTES = _HEAD.size
RECORD_OVERHEAD = HEAD_BYTES + _CRC.size  # bytes of a record beside its payload
# What looks like a record and is none costs a checksum over the length that it claims: without a limit a small file of
# heads would take hours to read. Real damage stays below: of each size, its claims are hardly more than what it hit.
_CLAIMS_FREE = 4  # of each size
_CLAIMED_PER_BYTE = 2  # of each size, for each byte of the segment before the claim


class Kind(IntEnum):
    """What an entry says. Its payload is UTF-8 text where not said otherwise."""

    SEGMENT = 0  # first record of every segment: JSON with format, run, rig, segment
    OPEN = 1  # the run opened: JSON with serial, reason
    BEGIN = 2  # a fresh pipeline begins, with these settings (TOML)
    KEPT = 3  # wire bytes: the description as it was known before
    CHUNK = 4  # wire bytes as they arrived
    SETTINGS = 5  # other settings hold from here on (TOML)
    MARK = 6  # a sentence: cable out, service stopped ...
    CLOSE = 7  # the run closed: why
    CALIBRATION = 8  # this calibration of the board holds from here on, as old as it is now (TOML)
    BLOCK = 9  # of a packed segment alone: a stretch of the plain one
    INDEX = 10  # of a packed segment alone: where its blocks are
    THINNED = 11  # of a packed segment, or one that was and is repaired: a stretch that was given up for room


@dataclass(frozen=True, slots=True)
class Entry:
    """One thing that happened to a run. `utc_s`: by the service's clock; of a chunk, when it had arrived."""

    kind: Kind
    utc_s: float
    payload: bytes

    @property
    def text(self) -> str:
        return self.payload.decode("utf-8", "replace")


@dataclass(frozen=True, slots=True)
class Numbered:
    """An entry with its number in the run; `offset`: of its record in what was read."""

    number: int
    entry: Entry
    offset: int = field(default=0, compare=False)


@dataclass(frozen=True, slots=True)
class Unreadable:
    """A stretch of a segment that holds no record."""

    offset: int
    length: int


def record(number: int, entry: Entry, magic: bytes = MAGIC) -> bytes:
    """The bytes of one entry in a segment. Raises ValueError for a payload beyond RECORD_BYTES_MAX."""
    return records(number, (entry,), magic)


def records(first: int, entries: Iterable[Entry], magic: bytes = MAGIC) -> bytes:
    """Those of entries in turn, numbered from `first`, each payload copied once. Raises ValueError as `record` does."""
    pieces: list[bytes] = []
    for number, entry in enumerate(entries, first):
        payload = entry.payload
        if len(payload) > RECORD_BYTES_MAX:
            raise ValueError(f"an entry of {len(payload)} bytes, at most {RECORD_BYTES_MAX}")
        head = _HEAD.pack(magic, entry.kind, len(payload), number, entry.utc_s)
        pieces += head, payload, _CRC.pack(crc32(payload, crc32(head)))
    return b"".join(pieces)


def kind_and_length(head: bytes) -> tuple[int, int]:
    """Of a record that begins with these HEAD_BYTES: what kind it says, and how long its payload; 0 where they end."""
    return int.from_bytes(head[4:5], "little"), int.from_bytes(head[8:12], "little")


class Records:
    """The bytes of a segment in any cut -> its entries in turn, and the stretches that hold none."""

    def __init__(self, magic: bytes = MAGIC, offset: int = 0) -> None:
        self._magic = magic
        self._data = b""
        self._offset = offset  # of the first byte of `_data` in the segment
        self._bad_from: int | None = None
        self._claimed: Counter[int] = Counter()  # bytes of claims that were no record, by their size in bits

    def feed(self, data: bytes) -> Iterator[Numbered | Unreadable]:
        """Take the next bytes. Entries of a kind that is not known (a newer format) are skipped."""
        self._data += data
        yield from self._read(False)

    def end(self) -> Iterator[Numbered | Unreadable]:
        """No more will come: what is left is a record that was cut off."""
        yield from self._read(True)
        if self._data:
            self._bad(len(self._data))
        yield from self._bad_ended()

    def _read(self, last: bool) -> Iterator[Numbered | Unreadable]:
        at = 0
        while True:
            found = self._record_at(at)
            if found is None and not last:
                break  # its end has not come yet
            if isinstance(found, tuple):
                numbered, length = found
                yield from self._bad_ended(at)
                if numbered is not None:
                    yield numbered
                at += length
                continue
            start = self._data.find(self._magic, at + 1)
            if self._bad_from is None and at < len(self._data):
                self._bad_from = self._offset + at
            if start < 0:
                # Nothing more to be found but, perhaps, the first bytes of a magic.
                at = len(self._data) if last else max(at, len(self._data) - len(self._magic) + 1)
                break
            at = start
        self._data = self._data[at:]
        self._offset += at

    def _record_at(self, at: int) -> tuple[Numbered | None, int] | bool | None:
        """The entry at `at` and its length; None: more bytes are needed to say; False: there is none."""
        data = self._data
        head = data[at : at + _HEAD.size]
        if len(head) < _HEAD.size:
            return None if self._magic.startswith(head[:4]) or head.startswith(self._magic) else False
        magic, kind, length, number, utc_s = _HEAD.unpack(head)
        if magic != self._magic or length > RECORD_BYTES_MAX:
            return False
        end = at + _HEAD.size + length
        if len(data) < end + _CRC.size:
            return None
        size = (end - at).bit_length()
        if self._claimed[size] > (_CLAIMS_FREE << size) + _CLAIMED_PER_BYTE * (self._offset + at):
            return False
        if crc32(memoryview(data)[at:end]) != _CRC.unpack_from(data, end)[0]:
            self._claimed[size] += end - at
            return False
        known = kind in Kind.__members__.values()
        entry = Entry(Kind(kind), utc_s, data[at + _HEAD.size : end]) if known else None
        found = None if entry is None else Numbered(number, entry, self._offset + at)
        return found, end + _CRC.size - at

    def _bad(self, length: int) -> None:
        if self._bad_from is None:
            self._bad_from = self._offset
        self._offset += length
        self._data = b""

    def _bad_ended(self, at: int = 0) -> Iterator[Unreadable]:
        if self._bad_from is not None:
            yield Unreadable(self._bad_from, self._offset + at - self._bad_from)
            self._bad_from = None


def is_time(utc_s: float) -> bool:
    """Whether a calendar has this time: a record can hold any float64."""
    return 0.0 <= utc_s <= UTC_S_MAX


_NAME = re.compile(r"[0-9]{8}-[0-9]{4}-[A-Za-z0-9][A-Za-z0-9_-]*")
_SEGMENT = re.compile(r"([0-9]{4,8})\.(run|packed)")


def run_name(utc_s: float, rig: str, attempt: int = 1) -> str:
    """The folder of a run: minute in UTC and rig; the second run of that minute gets a number behind."""
    minute = datetime.fromtimestamp(utc_s, UTC).strftime("%Y%m%d-%H%M")
    return f"{minute}-{rig}" + (f"-{attempt}" if attempt > 1 else "")


def is_run_name(name: str) -> bool:
    return _NAME.fullmatch(name) is not None


def segment_name(number: int) -> str:
    """The file of a segment, counted from 1."""
    return f"{number:04d}.run"


def packed_name(name: str) -> str:
    """The file of the same segment once it is packed."""
    return name.removesuffix(".run") + ".packed"


def plain_name(name: str) -> str:
    """The file of the same segment as it was written."""
    return name.removesuffix(".packed").removesuffix(".run") + ".run"


def is_packed(name: str) -> bool:
    return name.endswith(".packed")


def segment_number(name: str) -> int | None:
    """Which segment a file is, plain or packed; None: it is none."""
    found = _SEGMENT.fullmatch(name)
    return int(found[1]) if found else None
