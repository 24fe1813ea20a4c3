"""Every sample of a run accounted for: what the board's own counters promised is stored, or missing for a reason. Pure.

Blocks of samples, single samples and edges carry the board's count, so what did not come is known to the sample. What a
board measured last before it started anew nobody counted; how often that was is told beside the sums.
"""

from collections import Counter, deque
from collections.abc import Iterator
from dataclasses import dataclass, field
from enum import StrEnum
from typing import Any, TypeAlias

from firmware_protocol import ChannelDescription, Damage, DamageKind, Decoder, Edges, Message, Received, Singles
from firmware_protocol.blocks import SampleBlock
from server.runs.layout import Entry, Kind
from server.runs.marks import NOT_KEPT_UP, NOT_TAKEN, STARTED, STOPPED, THINNED

GAPS_MAX = 1000  # of each counter, the newest: a block that comes late fills one of them
_MODULUS = 1 << 32  # of the counters of single samples and edges; those of blocks are longer and do not wrap


class Reason(StrEnum):
    """Why samples are missing, in the words of a report. Where several may be it, the first here is told."""

    DISK = "not to be read from the disk"
    PLAN = "thinned by the plan"
    SLOW = "this PC too slow"
    CABLE = "cable out"
    SERVICE = "service not running"
    WIRE = "lost on the wire"
    BOARD = "dropped by the board"


_OF_THE_WIRE = {
    DamageKind.LOST,
    DamageKind.CHECKSUM,
    DamageKind.STUFFING,
    DamageKind.SHORT,
    DamageKind.TOO_LONG,
    DamageKind.MALFORMED,
}
Key: TypeAlias = tuple[str, int]  # what is counted, and its number


@dataclass(slots=True)
class _Ledger:
    """Of one counter. `stored` and `missing` are counted as blocks come, `closed` and the rest by the counter alone."""

    wraps: bool
    stored: int = 0
    again: int = 0
    missing: Counter[Reason] = field(default_factory=Counter)
    closed: int = 0  # promised by starts of the board that are over
    first: int = -1  # of this start; -1: nothing has come of it
    due: int = 0
    seen: int = 0  # what had happened when the newest came
    gaps: deque[tuple[int, int, Reason]] = field(default_factory=lambda: deque(maxlen=GAPS_MAX))

    @property
    def promised(self) -> int:
        return self.closed + (self.due - self.first if self.first >= 0 else 0)

    def may_follow(self, number: int) -> bool:
        """Whether this number can be of the same start."""
        return (number - self.due) % _MODULUS < _MODULUS // 2 if self.wraps else number >= self.due

    def start_anew(self) -> None:
        self.closed, self.first, self.due = self.promised, -1, 0
        self.gaps.clear()

    def goes_on(self, number: int, count: int) -> bool:
        """Whether just these were due, as nearly always: then they are taken."""
        if number != self.due or self.first < 0:
            return False
        self.stored += count
        self.due += count
        return True

    def take(self, number: int, count: int, begins: int, reason: Reason) -> None:
        """So many from this number on came. `begins`: the first that this start can have counted."""
        if self.first < 0:
            self.first = self.due = min(begins, number)
        if self.wraps:  # the nearest that has this number
            number = self.due + (number - self.due + _MODULUS // 2) % _MODULUS - _MODULUS // 2
        end = number + count
        if number > self.due:
            self.missing[reason] += number - self.due
            self.gaps.append((self.due, number, reason))
        elif number < self.due:
            late = self._late(number, min(end, self.due))
            self.stored += late
            self.again += min(end, self.due) - number - late
        self.stored += max(0, end - max(number, self.due))
        self.due = max(self.due, end)

    def _late(self, first: int, end: int) -> int:
        """How many of these were missing until now; they are no more."""
        found, left = 0, list[tuple[int, int, Reason]]()
        for gap_first, gap_end, reason in self.gaps:
            low, high = max(first, gap_first), min(end, gap_end)
            if low >= high:
                left.append((gap_first, gap_end, reason))
                continue
            found += high - low
            self.missing[reason] -= high - low
            left += [each for each in ((gap_first, low, reason), (high, gap_end, reason)) if each[0] < each[1]]
        self.gaps = deque(left, maxlen=GAPS_MAX)
        return found


class Account:
    """Give it the entries of a run in turn, and what could not be read of it; `record()` is what is kept."""

    def __init__(self) -> None:
        self._decoder = Decoder(from_board=True)
        self._boot = -1
        self._starts = 0  # how often the board started anew
        self._went_back = False  # what is counted next tells whether the board started anew
        self._known_start = False  # this start of it began in the run, so it counted from 0
        self._ledgers: dict[Key, _Ledger] = {}
        self._names: dict[Key, dict[int, str]] = {}  # by the channel's index
        self._happened: dict[Reason, int] = {}
        self._count = 0  # of what happened

    def unreadable(self) -> None:
        """Something of the run cannot be read here."""
        self._happens(Reason.DISK)

    def take(self, entry: Entry) -> None:
        """The next entry."""
        if entry.kind is Kind.BEGIN:
            self._decoder = Decoder(from_board=True)
        elif entry.kind is Kind.MARK:
            self._happens(reason_of(entry.text))
        elif entry.kind in (Kind.KEPT, Kind.CHUNK):
            for each in self._decoder.feed(entry.payload):
                if isinstance(each, Received):
                    self._heard(each)
                elif each.kind in _OF_THE_WIRE:
                    self._damaged(each)

    def record(self) -> list[dict[str, Any]]:
        """For each counter what was promised, stored and is missing by its reason; `exact`: the sum is right."""
        return [
            {
                "what": what,
                "number": number,
                "channels": [name for _, name in sorted(self._names.get((what, number), {}).items())],
                "promised": ledger.promised,
                "stored": ledger.stored,
                "missing": {reason.value: ledger.missing[reason] for reason in Reason if ledger.missing[reason]},
                "again": ledger.again,
                "starts_anew": self._starts,
                "exact": ledger.promised == ledger.stored + ledger.missing.total(),
            }
            for (what, number), ledger in sorted(self._ledgers.items())
        ]

    def _damaged(self, damage: Damage) -> None:
        self._happens(Reason.WIRE)
        if damage.kind is DamageKind.LOST and not damage.frames:  # its frames' numbers went back, or on by too many
            self._went_back = True

    def _heard(self, item: Received) -> None:
        if item.boot != self._boot:
            if self._boot >= 0:
                self._start_anew(known=True)
            self._boot = item.boot
        message = item.message
        if isinstance(message, ChannelDescription):
            single = message.group is None
            key = ("single samples", message.index) if single else ("samples", message.group or 0)
            self._names.setdefault(key, {})[message.index] = message.name
        for key, number, count in _counted(message):
            if self._went_back and (known := self._ledgers.get(key)) is not None and known.first >= 0:
                self._went_back = False
                if not known.may_follow(number):  # a start like any other
                    self._start_anew(known=False)
            ledger = self._ledgers.get(key)
            if ledger is None:
                ledger = self._ledgers[key] = _Ledger(wraps=key[0] != "samples")
            if not ledger.goes_on(number, count):
                ledger.take(number, count, 0 if self._known_start else number, self._since(ledger))
            ledger.seen = self._count

    def _start_anew(self, known: bool) -> None:
        self._went_back = False
        self._starts += 1
        self._known_start = known
        for ledger in self._ledgers.values():
            ledger.start_anew()

    def _happens(self, reason: Reason) -> None:
        self._count += 1
        self._happened[reason] = self._count

    def _since(self, ledger: _Ledger) -> Reason:
        """Why something may be missing since the newest that came: a board that sends all numbers dropped it itself."""
        return next((each for each in Reason if self._happened.get(each, 0) > ledger.seen), Reason.BOARD)


def _counted(message: Message) -> Iterator[tuple[Key, int, int]]:
    """What is counted in a message: of which counter, from which number on, how many."""
    if isinstance(message, SampleBlock):
        yield ("samples", message.group), message.first_sample, message.count
    elif isinstance(message, Edges):
        yield ("edges", 0), message.first_edge, len(message.ticks)
    elif isinstance(message, Singles):
        for each in message.singles:
            yield ("single samples", each.channel), each.number, 1


def reason_of(mark: str) -> Reason:
    """What a mark of a run says of the samples that are missing behind it."""
    if mark.startswith(NOT_TAKEN):
        return Reason.DISK
    if mark.startswith(THINNED):
        return Reason.PLAN
    if mark.startswith(NOT_KEPT_UP):
        return Reason.SLOW
    return Reason.SERVICE if mark in (STOPPED, STARTED) else Reason.CABLE


def words(line: dict[str, Any]) -> str:
    """One line of `record()` as a sentence of a report."""
    names = line["channels"]
    what = ", ".join(names) if 0 < len(names) <= 3 else f"{len(names)} channels" if names else line["what"]
    of_each = " each" if len(names) > 1 else ""
    parts = [f"promised {_grouped(line['promised'])}{of_each}", f"stored {_grouped(line['stored'])}"]
    parts += [f"{reason} {_grouped(count)}" for reason, count in line["missing"].items()]
    left = line["promised"] - line["stored"] - sum(line["missing"].values())
    parts += [] if line["exact"] else [f"the sum is wrong by {_grouped(abs(left))}: please report it"]
    return f"{what}: {', '.join(parts)}"


def _grouped(number: int) -> str:
    """Thousands apart, by a thin space that does not break."""
    return f"{number:,}".replace(",", "\u202f")
