"""Which blocks of a packed segment a plan may give up, and what then stands in their place. Pure.

Kept is what lies in the plan's spans, and whatever the rest of the run is read by: entries that are not chunks, and all
that the board said of itself for the first time in this segment, with the block before, in which it may have begun.
"""

from collections.abc import Sequence

from firmware_protocol import ChannelDescription, Decoder, Identity, InputDescription, Received
from server.runs.layout import Kind, Numbered
from server.runs.packing.block import records_of
from server.runs.packing.thinned import Thinned
from server.runs.packing.whole import Index
from server.runs.space import Span, is_kept

_GIVEN_UP = (Kind.CHUNK, Kind.SEGMENT)  # the segment's head is no entry, and says nothing that its name does not


class Needed:
    """Give it the plain bytes of each block in turn: whether the rest of the run needs it."""

    def __init__(self) -> None:
        self._decoder = Decoder(from_board=True)
        self._known: set[tuple[int, object]] = set()

    def take(self, plain: bytes) -> tuple[bool, bool]:
        """Whether this block is needed, and whether the one before it is too."""
        is_needed, said_anew = False, False
        for each in records_of(plain):
            if not isinstance(each, Numbered):
                is_needed = True  # damage of the plain one is kept as it was
                continue
            is_needed |= each.entry.kind not in _GIVEN_UP
            if each.entry.kind is Kind.CHUNK:
                said_anew |= self._describes(each.entry.payload)
        return is_needed or said_anew, said_anew

    def _describes(self, wire: bytes) -> bool:
        found = False
        for each in self._decoder.feed(wire):
            if isinstance(each, Received) and isinstance(
                each.message, Identity | ChannelDescription | InputDescription
            ):
                said = each.boot, each.message
                found |= said not in self._known
                self._known.add(said)
        return found


def may_go(index: Index, needed: Sequence[bool], spans: Sequence[Span]) -> list[bool]:
    """For each place of the index, whether it is given up. `spans`: as `kept_spans` gives them."""
    starts = [place.utc_s for place in index.places]
    ends = [*starts[1:], index.to_utc_s]
    return [
        not its and not is_kept(min(begin, end), max(begin, end), spans)
        for its, begin, end in zip(needed, starts, ends, strict=True)
    ]


def in_place_of(index: Index, first: int, behind: int, utc_s: float, plan: str) -> Thinned:
    """What stands in place of the blocks from number `first` up to `behind`. `utc_s`: now."""
    begin, ends = index.places[first], behind == len(index.places)
    end_offset = index.plain_bytes if ends else index.places[behind].plain_offset
    next_number = index.next_number if ends else index.places[behind].number
    to_utc_s = index.to_utc_s if ends else index.places[behind].utc_s
    length = end_offset - begin.plain_offset
    return Thinned(begin.plain_offset, length, begin.number, next_number, begin.utc_s, to_utc_s, utc_s, plan)
