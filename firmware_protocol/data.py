"""Board to PC, again and again, beside the blocks of samples: single samples, edges, counts, status, clock replies.

Everything here carries its own tick. Counters of 32 bits go on modulo 2^32; ticks and sample numbers never wrap.
"""

from dataclasses import dataclass
from itertools import pairwise
from struct import Struct
from typing import Any, ClassVar, Self

from firmware_protocol.errors import EncodeError, malformed
from firmware_protocol.fields import (
    U32_MAX,
    Fields,
    float32_bytes,
    float32_of,
    need,
    pack_fields,
    tick_bytes,
    tick_of,
    unpack_fields,
)

_U32 = Struct("<I")


@dataclass(frozen=True, slots=True)
class Single:
    """One sample of an uneven channel."""

    channel: int
    number: int  # counts this channel's samples since the board started, modulo 2^32
    tick: int
    code: int


@dataclass(frozen=True, slots=True)
class Singles:
    """Samples that come with their own tick, for slow or uneven channels. `code` is plain two's complement."""

    TYPE: ClassVar[int] = 0x11
    singles: tuple[Single, ...]

    _ITEM: ClassVar[Struct] = Struct("<BI6si")

    def payload(self) -> bytes:
        if not self.singles:
            raise EncodeError("singles need at least one item")
        pack = self._ITEM.pack
        return b"".join(pack(s.channel, s.number & U32_MAX, tick_bytes(s.tick), s.code) for s in self.singles)

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        items = _items(cls._ITEM, payload, "singles")
        return cls(tuple(Single(channel, number, tick_of(tick), code) for channel, number, tick, code in items))


@dataclass(frozen=True, slots=True)
class Edges:
    """Changes of the Hall and pulse inputs: `ticks[k]` and the new levels of all inputs, one bit each.

    Levels are as on the wires; an inverted input is turned over by the service. The states of one
    frame are numbered from `first_edge`, which counts edges since the board started (modulo 2^32).
    """

    TYPE: ClassVar[int] = 0x12
    first_edge: int
    ticks: tuple[int, ...]
    states: bytes

    _ITEM: ClassVar[Struct] = Struct("<6sB")

    def payload(self) -> bytes:
        if len(self.ticks) != len(self.states) or not self.ticks:
            raise EncodeError("edges need as many ticks as states, at least one")
        items = (self._ITEM.pack(tick_bytes(tick), state) for tick, state in zip(self.ticks, self.states, strict=True))
        return _U32.pack(self.first_edge & U32_MAX) + b"".join(items)

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        need(payload, _U32.size, "edges")
        items = _items(cls._ITEM, payload[_U32.size :], "edges")
        ticks = tuple(tick_of(tick) for tick, _ in items)
        if any(later <= earlier for earlier, later in pairwise(ticks)):
            raise malformed("edges: ticks do not go on")
        return cls(_U32.unpack_from(payload)[0], ticks, bytes(state for _, state in items))


@dataclass(frozen=True, slots=True)
class Count:
    """A counter input: pulses since the board started (modulo 2^32) and the tick of the last one."""

    input: int
    count: int
    tick: int


@dataclass(frozen=True, slots=True)
class Counters:
    """Counts of the counter inputs."""

    TYPE: ClassVar[int] = 0x13
    counts: tuple[Count, ...]

    _ITEM: ClassVar[Struct] = Struct("<BI6s")

    def payload(self) -> bytes:
        if not self.counts:
            raise EncodeError("counters need at least one item")
        return b"".join(self._ITEM.pack(c.input, c.count & U32_MAX, tick_bytes(c.tick)) for c in self.counts)

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        items = _items(cls._ITEM, payload, "counters")
        return cls(tuple(Count(number, count, tick_of(tick)) for number, count, tick in items))


@dataclass(frozen=True, slots=True)
class Status:
    """How the board is, at least every 250 ms. Counts run since the board started (modulo 2^32).

    `levels` are the inputs' levels at `tick`: without an edge they are the only witness of them.
    """

    TYPE: ClassVar[int] = 0x14
    tick: int
    streaming: bool
    levels: int
    dropped_blocks: int = 0
    overruns: int = 0
    lost_edges: int = 0
    temperature_c: float | None = None
    supply_v: float | None = None
    unknown: tuple[tuple[int, bytes], ...] = ()

    _HEAD: ClassVar[Struct] = Struct("<6sBBIII")

    def payload(self) -> bytes:
        counts = (self.dropped_blocks & U32_MAX, self.overruns & U32_MAX, self.lost_edges & U32_MAX)
        head = self._HEAD.pack(tick_bytes(self.tick), int(self.streaming), self.levels, *counts)
        fields: Fields = [(1, float32_bytes(self.temperature_c)), (2, float32_bytes(self.supply_v))]
        return head + pack_fields([*fields, *self.unknown])

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        need(payload, cls._HEAD.size, "status")
        tick, flags, levels, dropped, overruns, lost = cls._HEAD.unpack_from(payload)
        known, unknown = unpack_fields(payload[cls._HEAD.size :], (1, 2))
        ends = float32_of(known, 1), float32_of(known, 2)
        return cls(tick_of(tick), bool(flags & 1), levels, dropped, overruns, lost, *ends, unknown)


@dataclass(frozen=True, slots=True)
class ClockReply:
    """Answer to a clock request: its token again, and the ticks at which it came and was answered."""

    TYPE: ClassVar[int] = 0x15
    token: int
    received_tick: int
    sent_tick: int

    _HEAD: ClassVar[Struct] = Struct("<Q6s6s")

    def payload(self) -> bytes:
        return self._HEAD.pack(self.token, tick_bytes(self.received_tick), tick_bytes(self.sent_tick))

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        need(payload, cls._HEAD.size, "clock reply")
        token, received, sent = cls._HEAD.unpack_from(payload)
        if tick_of(sent) < tick_of(received):
            raise malformed("clock reply: answered before it came")
        return cls(token, tick_of(received), tick_of(sent))


def _items(layout: Struct, raw: bytes, what: str) -> list[tuple[Any, ...]]:
    if not raw or len(raw) % layout.size:
        raise malformed(f"{what}: not whole items")
    return list(layout.iter_unpack(raw))
