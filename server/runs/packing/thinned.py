"""What stands in a packed segment in place of blocks that were given up for room. Pure; RUN.md is the authority."""

from collections.abc import Iterator
from dataclasses import dataclass
from datetime import UTC, datetime
from struct import Struct, error

from server.runs.layout import MAGIC_PACKED, Entry, Kind, Numbered, is_time, record
from server.runs.marks import THINNED
from server.runs.packing.block import records_of
from server.runs.packing.whole import block_of

_HEAD = Struct("<QQQdd")
PLAN_BYTES_MAX = 400  # of its words: two numbers in a sentence
ALONE_BYTES_MAX = 1024  # of a block that holds such a record alone: twice that record


@dataclass(frozen=True, slots=True)
class Thinned:
    """So many bytes from this place on in the plain segment are given up: entries `number` up to `next_number`.

    `from_utc_s`, `to_utc_s`: when it began and ended; `thinned_utc_s`: when it was given up; `plan`: what the person
    agreed to, in words.
    """

    offset: int
    length: int
    number: int
    next_number: int
    from_utc_s: float
    to_utc_s: float
    thinned_utc_s: float
    plan: str

    @property
    def numbered(self) -> Numbered:
        """As an entry of its segment."""
        head = _HEAD.pack(self.offset, self.length, self.next_number, self.to_utc_s, self.thinned_utc_s)
        payload = head + self.plan.encode("utf-8", "replace")[:PLAN_BYTES_MAX]
        return Numbered(self.number, Entry(Kind.THINNED, self.from_utc_s, payload), self.offset)

    @property
    def recorded(self) -> bytes:
        """Its record in the packed segment."""
        return record(self.number, self.numbered.entry, MAGIC_PACKED)

    @property
    def sentence(self) -> str:
        """As a mark of the run says it."""
        return f"{THINNED}: {_day(self.from_utc_s)} to {_day(self.to_utc_s)} UTC"


def thinned_of(numbered: Numbered) -> Thinned | None:
    """What such a record says; None for another one, or one that says nothing that can be."""
    entry = numbered.entry
    if entry.kind is not Kind.THINNED:
        return None
    try:
        offset, length, next_number, to_utc_s, thinned_utc_s = _HEAD.unpack_from(entry.payload)
    except error:
        return None
    plan = entry.payload[_HEAD.size :][:PLAN_BYTES_MAX].decode("utf-8", "replace")
    return Thinned(offset, length, numbered.number, next_number, entry.utc_s, to_utc_s, thinned_utc_s, plan)


def thinned_told(numbered: Numbered) -> Iterator[Thinned]:
    """What a record of a packed segment says was given up: itself, or in a block of its own where a thinned segment
    was repaired and packed again."""
    if (thinned := thinned_of(numbered)) is not None:
        yield thinned
        return
    block = block_of(numbered) if len(numbered.entry.payload) <= ALONE_BYTES_MAX else None
    for each in () if block is None else records_of(block[1]):
        if isinstance(each, Numbered) and (thinned := thinned_of(each)) is not None:
            yield thinned


def _day(utc_s: float) -> str:
    return f"{datetime.fromtimestamp(utc_s, UTC):%Y-%m-%d %H:%M:%S}" if is_time(utc_s) else "an unknown time"
