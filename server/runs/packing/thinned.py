"""What stands in a packed segment in place of blocks that were given up for room. Pure; RUN.md is the authority."""

from dataclasses import dataclass
from datetime import UTC, datetime
from struct import Struct, error

from server.runs.layout import MAGIC_PACKED, Entry, Kind, Numbered, is_time, record
from server.runs.marks import THINNED

_HEAD = Struct("<QQQdd")
PLAN_BYTES_MAX = 400  # of its words: two numbers in a sentence


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


def _day(utc_s: float) -> str:
    return f"{datetime.fromtimestamp(utc_s, UTC):%Y-%m-%d %H:%M:%S}" if is_time(utc_s) else "an unknown time"
