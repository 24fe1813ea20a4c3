"""The messages of the wire: one frozen dataclass each, with how its payload is written and read.

SPEC.md is the authority; every table there has its struct here. Nothing in this file knows frames,
ports or clocks. MESSAGES at the end is the whole list, PC to board included: no message of it can
drive a motor.
"""

from dataclasses import dataclass
from enum import IntEnum, StrEnum
from fractions import Fraction
from struct import Struct
from typing import ClassVar, Self, TypeAlias, TypeVar

from firmware_protocol.errors import DamageKind, EncodeError, FrameError
from firmware_protocol.fields import Fields, pack_fields, text_of, unpack_fields

PROTOCOL_MAJOR = 0
PROTOCOL_MINOR = 9

TICK_BITS = 48
TICK_MAX = (1 << TICK_BITS) - 1
WORD_CODING = 0x8080  # sample words are xored with it: zero becomes 0x8080, so a motor at rest has no zero bytes

_U32_MAX = 0xFFFF_FFFF


class Role(IntEnum):
    """What a channel measures."""

    VOLTAGE = 1
    CURRENT = 2
    TEMPERATURE = 3
    SPEED = 4
    POSITION = 5
    COMMAND = 6
    OTHER = 7


class SampleKind(IntEnum):
    """What one sample is."""

    INSTANTANEOUS = 0
    MEAN = 1
    RMS = 2


class InputKind(IntEnum):
    """What an input line carries."""

    HALL = 1
    PULSE = 2
    COUNTER = 3


class Source(StrEnum):
    """Where a board's samples come from; anything but hardware is shown as such."""

    HARDWARE = "hardware"
    DEMO = "demo"
    PLAYER = "player"


def _tick(raw: bytes, at: int) -> int:
    return int.from_bytes(raw[at : at + 6], "little")


def _tick_bytes(tick: int) -> bytes:
    if not 0 <= tick <= TICK_MAX:
        raise EncodeError(f"tick {tick} does not fit {TICK_BITS} bits")
    return tick.to_bytes(6, "little")


def _need(payload: bytes, length: int, what: str) -> None:
    if len(payload) < length:
        raise FrameError(DamageKind.MALFORMED, f"{what}: {len(payload)} bytes, needs {length}")


@dataclass(frozen=True, slots=True)
class Identity:
    """Who the board is. The two version bytes come first in every version of the protocol."""

    TYPE: ClassVar[int] = 0x01
    major: int
    minor: int
    boot: int  # counts the board's starts; its low byte stands in every frame header
    tick_hz: int  # nominal ticks a second
    channels: int
    inputs: int
    serial: str
    model: str = ""
    firmware: str = ""
    source: str = Source.HARDWARE
    clock_tolerance_ppm: float | None = None
    plate: str = ""  # what the board has been told of its motor: TOML text as in a rig's settings
    unknown: tuple[tuple[int, bytes], ...] = ()

    _HEAD: ClassVar[Struct] = Struct("<BBIIBB")

    def payload(self) -> bytes:
        head = self._HEAD.pack(self.major, self.minor, self.boot, self.tick_hz, self.channels, self.inputs)
        fields: Fields = [(1, self.serial.encode()), (2, self.model.encode()), (3, self.firmware.encode())]
        fields += [(4, str(self.source).encode()), (5, _float32(self.clock_tolerance_ppm))]
        fields += [(6, piece) for piece in _pieces(self.plate.encode())]
        return head + pack_fields([*fields, *self.unknown])

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        _need(payload, cls._HEAD.size, "identity")
        major, minor, boot, tick_hz, channels, inputs = cls._HEAD.unpack_from(payload)
        if tick_hz == 0:
            raise FrameError(DamageKind.MALFORMED, "identity: tick_hz is 0")
        known, unknown = unpack_fields(payload[cls._HEAD.size :], {1, 2, 3, 4, 5, 6})
        return cls(
            major,
            minor,
            boot,
            tick_hz,
            channels,
            inputs,
            serial=text_of(known, 1),
            model=text_of(known, 2),
            firmware=text_of(known, 3),
            source=text_of(known, 4) or Source.HARDWARE,
            clock_tolerance_ppm=_float_of(known, 5),
            plate=text_of(known, 6),
            unknown=unknown,
        )


_F32, _F64, _U32, _U32X2, _I16X2, _I32U32, _F32X2 = (
    Struct(layout) for layout in ("<f", "<d", "<I", "<II", "<hh", "<iI", "<ff")
)


def _float32(value: float | None) -> bytes:
    return b"" if value is None else _F32.pack(value)


def _pieces(data: bytes) -> list[bytes]:
    return [data[at : at + 255] for at in range(0, len(data), 255)]


def _unpacked(known: dict[int, bytes], tag: int, layout: Struct) -> tuple[float, ...] | None:
    raw = known.get(tag)
    if not raw:
        return None
    if len(raw) != layout.size:
        raise FrameError(DamageKind.MALFORMED, f"field {tag}: {len(raw)} bytes, needs {layout.size}")
    return layout.unpack(raw)


def _float_of(known: dict[int, bytes], tag: int) -> float | None:
    values = _unpacked(known, tag, _F32)
    return None if values is None else values[0]


_E = TypeVar("_E", bound=IntEnum)


def _enum_of(kind: type[_E], value: int, what: str) -> _E:
    try:
        return kind(value)
    except ValueError:
        raise FrameError(DamageKind.MALFORMED, f"{what}: {value} is not a known value") from None


@dataclass(frozen=True, slots=True)
class ChannelDescription:
    """One analogue channel: what it measures and how its codes become SI units.

    value = scale * code + offset. Codes at or beyond `code_low`, `code_high` are clipped.
    An even channel has `group` and `ticks_per_sample`; an uneven one has `interval_ticks_max`,
    the longest time between two of its samples that the board promises.
    """

    TYPE: ClassVar[int] = 0x02
    index: int
    role: Role
    name: str
    place: str  # where it sits: "supply", "line", "auxiliary", "L1", "U", "dc link" ...
    unit: str
    scale: float
    offset: float
    code_low: int
    code_high: int
    group: int | None = None
    ticks_per_sample: Fraction | None = None
    interval_ticks_max: int | None = None
    kind: SampleKind = SampleKind.INSTANTANEOUS
    kind_ticks: int = 0  # time over which a mean or RMS is taken
    delay_ns: int = 0
    delay_limit_ns: int | None = None
    noise_codes_rms: float | None = None
    gain_limit: float | None = None  # largest relative gain error
    offset_limit_codes: float | None = None
    corner_low_hz: float | None = None
    corner_high_hz: float | None = None
    ac_coupled: bool = False
    unknown: tuple[tuple[int, bytes], ...] = ()

    def payload(self) -> bytes:
        fields: Fields = [(1, bytes((self.role,))), (2, self.name.encode()), (3, self.place.encode())]
        fields += [(4, self.unit.encode()), (5, _F64.pack(self.scale)), (6, _F64.pack(self.offset))]
        fields += [(7, _I16X2.pack(self.code_low, self.code_high))]
        if self.group is not None:
            fields += [(8, bytes((self.group,)))]
        if self.ticks_per_sample is not None:
            fields += [(9, _U32X2.pack(self.ticks_per_sample.numerator, self.ticks_per_sample.denominator))]
        if self.interval_ticks_max is not None:
            fields += [(10, _tick_bytes(self.interval_ticks_max))]
        if self.kind is not SampleKind.INSTANTANEOUS:
            fields += [(11, bytes((self.kind,)) + _U32.pack(self.kind_ticks))]
        if self.delay_ns or self.delay_limit_ns is not None:
            limit = _U32_MAX if self.delay_limit_ns is None else self.delay_limit_ns
            fields += [(12, _I32U32.pack(self.delay_ns, limit))]
        fields += [(13, _float32(self.noise_codes_rms)), (14, _float32(self.gain_limit))]
        fields += [(15, _float32(self.offset_limit_codes)), (16, _float32(self.corner_low_hz))]
        fields += [(17, _float32(self.corner_high_hz)), (18, b"\1" if self.ac_coupled else b"")]
        return bytes((self.index,)) + pack_fields([*fields, *self.unknown])

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        _need(payload, 1, "channel description")
        what = f"channel {payload[0]}"
        known, unknown = unpack_fields(payload[1:], set(range(1, 19)))
        scale, offset = _unpacked(known, 5, _F64), _unpacked(known, 6, _F64)
        codes, rate = _unpacked(known, 7, _I16X2), _unpacked(known, 9, _U32X2)
        if not known.get(1) or scale is None or offset is None or codes is None:
            raise FrameError(DamageKind.MALFORMED, f"{what}: role, scale, offset or code range is missing")
        if not codes[0] < codes[1] or not abs(scale[0]) > 0 or abs(scale[0]) == float("inf"):
            raise FrameError(DamageKind.MALFORMED, f"{what}: impossible scale or code range")
        if not abs(offset[0]) < float("inf"):
            raise FrameError(DamageKind.MALFORMED, f"{what}: impossible offset")
        even, uneven = 8 in known and rate is not None, 10 in known
        if even == uneven or (rate is not None and 0 in rate):
            raise FrameError(DamageKind.MALFORMED, f"{what}: needs either group and rate or longest interval")
        kind = known.get(11) or b"\0\0\0\0\0"
        delay = _unpacked(known, 12, _I32U32)
        return cls(
            payload[0],
            _enum_of(Role, known[1][0], f"{what}, role"),
            name=text_of(known, 2),
            place=text_of(known, 3),
            unit=text_of(known, 4),
            scale=scale[0],
            offset=offset[0],
            code_low=int(codes[0]),
            code_high=int(codes[1]),
            group=known[8][0] if even else None,
            ticks_per_sample=Fraction(int(rate[0]), int(rate[1])) if rate is not None else None,
            interval_ticks_max=_tick(known[10], 0) if uneven else None,
            kind=_enum_of(SampleKind, kind[0], f"{what}, kind"),
            kind_ticks=int.from_bytes(kind[1:5], "little"),
            delay_ns=int(delay[0]) if delay else 0,
            delay_limit_ns=int(delay[1]) if delay and delay[1] != _U32_MAX else None,
            noise_codes_rms=_float_of(known, 13),
            gain_limit=_float_of(known, 14),
            offset_limit_codes=_float_of(known, 15),
            corner_low_hz=_float_of(known, 16),
            corner_high_hz=_float_of(known, 17),
            ac_coupled=bool(known.get(18)),
            unknown=unknown,
        )


@dataclass(frozen=True, slots=True)
class InputDescription:
    """One digital input. `bit` is its place in the state byte of an edge; a counter has no bit of its own there."""

    TYPE: ClassVar[int] = 0x03
    index: int
    kind: InputKind
    name: str
    bit: int = 0
    pulses_per_turn: int | None = None  # for pulse and counter inputs
    inverted: bool = False
    delay_ns: int = 0
    delay_limit_ns: int | None = None
    unknown: tuple[tuple[int, bytes], ...] = ()

    def payload(self) -> bytes:
        fields: Fields = [(1, bytes((self.kind,))), (2, self.name.encode()), (3, bytes((self.bit,)))]
        if self.pulses_per_turn is not None:
            fields += [(4, _U32.pack(self.pulses_per_turn))]
        fields += [(5, b"\1" if self.inverted else b"")]
        if self.delay_ns or self.delay_limit_ns is not None:
            limit = _U32_MAX if self.delay_limit_ns is None else self.delay_limit_ns
            fields += [(6, _I32U32.pack(self.delay_ns, limit))]
        return bytes((self.index,)) + pack_fields([*fields, *self.unknown])

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        _need(payload, 1, "input description")
        what = f"input {payload[0]}"
        known, unknown = unpack_fields(payload[1:], set(range(1, 7)))
        if not known.get(1) or not known.get(3) or known[3][0] > 7:
            raise FrameError(DamageKind.MALFORMED, f"{what}: kind is missing or bit is not 0..7")
        pulses, delay = _unpacked(known, 4, _U32), _unpacked(known, 6, _I32U32)
        if pulses is not None and pulses[0] == 0:
            raise FrameError(DamageKind.MALFORMED, f"{what}: pulses_per_turn is 0")
        return cls(
            payload[0],
            _enum_of(InputKind, known[1][0], f"{what}, kind"),
            name=text_of(known, 2),
            bit=known[3][0],
            pulses_per_turn=int(pulses[0]) if pulses else None,
            inverted=bool(known.get(5)),
            delay_ns=int(delay[0]) if delay else 0,
            delay_limit_ns=int(delay[1]) if delay and delay[1] != _U32_MAX else None,
            unknown=unknown,
        )


@dataclass(frozen=True, slots=True)
class Samples:
    """A block of one group: `words` are int16, little endian, xored with 0x8080, one set of channels after another.

    The channels of a set stand in the order of their index. Sample k of the block was taken at
    tick + k * ticks_per_sample; `first_sample` counts the group's sets since the board started.
    """

    TYPE: ClassVar[int] = 0x10
    group: int
    channels: int
    first_sample: int
    tick: int
    words: bytes

    def payload(self) -> bytes:
        if not self.channels or len(self.words) % (2 * self.channels):
            raise EncodeError(f"{len(self.words)} bytes are not whole sets of {self.channels} channels")
        return bytes((self.group, self.channels)) + _tick_bytes(self.first_sample) + _tick_bytes(self.tick) + self.words

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        _need(payload, 14, "samples")
        words = payload[14:]
        if payload[1] == 0 or not words or len(words) % (2 * payload[1]):
            raise FrameError(DamageKind.MALFORMED, "samples: not whole sets of channels")
        return cls(payload[0], payload[1], _tick(payload, 2), _tick(payload, 8), words)

    @property
    def count(self) -> int:
        """Sample sets in the block."""
        return len(self.words) // (2 * self.channels)


@dataclass(frozen=True, slots=True)
class Single:
    """One sample of an uneven channel."""

    channel: int
    number: int  # counts this channel's samples since the board started
    tick: int
    code: int


@dataclass(frozen=True, slots=True)
class Singles:
    """Samples that come with their own tick, for slow or uneven channels."""

    TYPE: ClassVar[int] = 0x11
    singles: tuple[Single, ...]

    _ITEM: ClassVar[Struct] = Struct("<BI6sh")

    def payload(self) -> bytes:
        return b"".join(self._ITEM.pack(s.channel, s.number, _tick_bytes(s.tick), s.code) for s in self.singles)

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        if not payload or len(payload) % cls._ITEM.size:
            raise FrameError(DamageKind.MALFORMED, "singles: not whole items")
        items = cls._ITEM.iter_unpack(payload)
        return cls(tuple(Single(channel, number, _tick(tick, 0), code) for channel, number, tick, code in items))


@dataclass(frozen=True, slots=True)
class Edges:
    """Changes of the Hall and pulse inputs: `ticks[k]` and the new levels of all inputs, one bit each.

    Levels are as on the wires; an inverted input is turned over by the service. The states of one
    frame are numbered from `first_edge`, which counts edges since the board started.
    """

    TYPE: ClassVar[int] = 0x12
    first_edge: int
    ticks: tuple[int, ...]
    states: bytes

    _ITEM: ClassVar[Struct] = Struct("<6sB")

    def payload(self) -> bytes:
        if len(self.ticks) != len(self.states) or not self.ticks:
            raise EncodeError("edges need as many ticks as states, at least one")
        items = (self._ITEM.pack(_tick_bytes(tick), state) for tick, state in zip(self.ticks, self.states, strict=True))
        return _U32.pack(self.first_edge & _U32_MAX) + b"".join(items)

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        _need(payload, 4 + cls._ITEM.size, "edges")
        if (len(payload) - 4) % cls._ITEM.size:
            raise FrameError(DamageKind.MALFORMED, "edges: not whole items")
        items = list(cls._ITEM.iter_unpack(payload[4:]))
        ticks = tuple(_tick(tick, 0) for tick, _ in items)
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
        return b"".join(self._ITEM.pack(c.input, c.count & _U32_MAX, _tick_bytes(c.tick)) for c in self.counts)

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        if not payload or len(payload) % cls._ITEM.size:
            raise FrameError(DamageKind.MALFORMED, "counters: not whole items")
        items = cls._ITEM.iter_unpack(payload)
        return cls(tuple(Count(number, count, _tick(tick, 0)) for number, count, tick in items))


@dataclass(frozen=True, slots=True)
class Status:
    """How the board is, at least every 250 ms. Counts run since the board started.

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
        counts = (self.dropped_blocks & _U32_MAX, self.overruns & _U32_MAX, self.lost_edges & _U32_MAX)
        head = self._HEAD.pack(_tick_bytes(self.tick), int(self.streaming), self.levels, *counts)
        fields: Fields = [(1, _float32(self.temperature_c)), (2, _float32(self.supply_v))]
        return head + pack_fields([*fields, *self.unknown])

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        _need(payload, cls._HEAD.size, "status")
        tick, flags, levels, dropped, overruns, lost = cls._HEAD.unpack_from(payload)
        known, unknown = unpack_fields(payload[cls._HEAD.size :], {1, 2})
        ends = _float_of(known, 1), _float_of(known, 2)
        return cls(_tick(tick, 0), bool(flags & 1), levels, dropped, overruns, lost, *ends, unknown)


@dataclass(frozen=True, slots=True)
class ClockReply:
    """Answer to a clock request: its token again, and the ticks at which it came and was answered."""

    TYPE: ClassVar[int] = 0x15
    token: int
    received_tick: int
    sent_tick: int

    _HEAD: ClassVar[Struct] = Struct("<Q6s6s")

    def payload(self) -> bytes:
        return self._HEAD.pack(self.token, _tick_bytes(self.received_tick), _tick_bytes(self.sent_tick))

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        _need(payload, cls._HEAD.size, "clock reply")
        token, received, sent = cls._HEAD.unpack_from(payload)
        return cls(token, _tick(received, 0), _tick(sent, 0))


@dataclass(frozen=True, slots=True)
class Describe:
    """PC to board: say who you are and what you measure. Carries the version the PC speaks."""

    TYPE: ClassVar[int] = 0x81
    major: int = PROTOCOL_MAJOR
    minor: int = PROTOCOL_MINOR

    def payload(self) -> bytes:
        return bytes((self.major, self.minor))

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        _need(payload, 2, "describe")
        return cls(payload[0], payload[1])


@dataclass(frozen=True, slots=True)
class Start:
    """PC to board: send samples, edges and counts."""

    TYPE: ClassVar[int] = 0x82

    def payload(self) -> bytes:
        return b""

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        return cls()


@dataclass(frozen=True, slots=True)
class Stop:
    """PC to board: send only status. The motor is not touched: nothing on this wire can do that."""

    TYPE: ClassVar[int] = 0x83

    def payload(self) -> bytes:
        return b""

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        return cls()


@dataclass(frozen=True, slots=True)
class ClockRequest:
    """PC to board: what is your tick? The token is the PC's own time in microseconds; the board only repeats it."""

    TYPE: ClassVar[int] = 0x84
    token: int

    def payload(self) -> bytes:
        return self.token.to_bytes(8, "little")

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        _need(payload, 8, "clock request")
        return cls(int.from_bytes(payload[:8], "little"))


Message: TypeAlias = (
    Identity
    | ChannelDescription
    | InputDescription
    | Samples
    | Singles
    | Edges
    | Counters
    | Status
    | ClockReply
    | Describe
    | Start
    | Stop
    | ClockRequest
)

FROM_BOARD = (Identity, ChannelDescription, InputDescription, Samples, Singles, Edges, Counters, Status, ClockReply)
TO_BOARD = (Describe, Start, Stop, ClockRequest)
MESSAGES = FROM_BOARD + TO_BOARD
