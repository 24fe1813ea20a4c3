"""The portable core, built for this PC and called from Python: messages to frames, frames of a PC to requests.

`Core` is one loaded library. What it writes is compared with the codec in Python by the tests beside this file.
"""

from collections.abc import Sequence
from ctypes import (
    CDLL,
    POINTER,
    Structure,
    byref,
    c_bool,
    c_char_p,
    c_int32,
    c_uint8,
    c_uint16,
    c_uint32,
    c_void_p,
    create_string_buffer,
    pointer,
)
from pathlib import Path
from typing import Any

from firmware_protocol import (
    ChannelDescription,
    ClockReply,
    ClockRequest,
    Counters,
    Describe,
    Edges,
    Identity,
    InputDescription,
    Message,
    Samples,
    Samples12,
    Samples24,
    Singles,
    Start,
    Status,
    Stop,
)
from firmware_protocol.fields import pack_fields
from tests.firmware_protocol.firmware.c_records import (
    CChannel,
    CCount,
    CDescription,
    CExtra,
    CIdentity,
    CInput,
    CRequest,
    CSetup,
    CSingle,
    CStatus,
    CTick,
    c_tick,
    check_sizes,
)

BOX = c_void_p
NOT_KNOWN = 0xFFFFFFFF
HEARD = (
    "nothing", "describe", "start", "stop", "clock_request", "unknown", "malformed", "short", "stuffing", "checksum",
    "too_long",
)  # fmt: skip
_WORDS = {Samples: 0, Samples12: 1, Samples24: 2}
_SIGNATURES: dict[str, tuple[Any, tuple[Any, ...]]] = {
    "crc32_step": (c_uint32, (c_uint32, c_uint8)),
    "host_size": (c_uint16, (c_uint8,)),
    "host_outbox": (BOX, (c_uint16, c_uint32, c_uint16)),
    "host_send": (c_uint16, (BOX, c_char_p, c_uint16)),
    "outbox_room": (c_uint16, (BOX,)),
    "frame_bytes_max": (c_uint16, (c_uint16,)),
    "frame_end": (c_bool, (BOX,)),
    "describe_identity": (c_bool, (BOX, POINTER(CIdentity), c_uint32, c_uint8)),
    "describe_channel": (c_bool, (BOX, c_uint8, POINTER(CChannel))),
    "describe_input": (c_bool, (BOX, c_uint8, POINTER(CInput))),
    "wire_block": (c_bool, (BOX, c_uint8, c_uint8, c_uint8, CTick, CTick, c_char_p, c_uint16)),
    "wire_singles": (c_bool, (BOX, POINTER(CSingle), c_uint8)),
    "wire_counters": (c_bool, (BOX, POINTER(CCount), c_uint8)),
    "wire_status": (c_bool, (BOX, POINTER(CStatus))),
    "wire_clock_reply": (c_bool, (BOX, c_char_p, CTick, CTick)),
    "wire_edges_begin": (None, (BOX, c_uint32)),
    "wire_edge": (None, (BOX, CTick, c_uint8)),
    "request_decode": (c_uint8, (c_char_p, c_uint8, POINTER(CRequest))),
    "host_start": (c_void_p, (POINTER(CSetup), CTick)),
    "host_box": (BOX, (c_void_p,)),
    "host_hear": (None, (c_void_p, c_char_p, c_uint16, CTick)),
    "host_take": (c_uint16, (c_void_p, c_uint8, POINTER(c_int32), c_uint16)),
    "host_miss": (None, (c_void_p, c_uint8, c_uint32)),
    "host_edge": (None, (c_void_p, c_uint32, c_uint8)),
    "host_count": (None, (c_void_p, c_uint8, c_uint32)),
    "session_poll": (None, (c_void_p, CTick)),
    "session_redescribe": (None, (c_void_p, POINTER(CDescription), CTick)),
    "session_is_behind": (c_bool, (c_void_p,)),
    "session_single": (c_bool, (c_void_p, POINTER(CSingle), CTick)),
}


class Core:
    """The functions of one library, with their types."""

    def __init__(self, path: Path) -> None:
        self.c = CDLL(str(path))
        for name, (result, arguments) in _SIGNATURES.items():
            function = getattr(self.c, name)
            function.restype, function.argtypes = result, arguments
        check_sizes(self.c)

    @property
    def version(self) -> tuple[int, int]:
        return self.c.host_size(254), self.c.host_size(255)

    def crc32(self, data: bytes) -> int:
        crc = NOT_KNOWN
        for byte in data:
            crc = self.c.crc32_step(crc, byte)
        return crc ^ NOT_KNOWN

    def encode(self, message: Message, *, sequence: int, boot: int, room: int = 2048) -> bytes | None:
        """A message of a board as the core writes it; None if it did not fit into a ring of `room` bytes."""
        box = self.c.host_outbox(room, boot, sequence)
        if not self._write(box, message):
            return None
        return self.sent(box)

    def sent(self, box: Any, count: int = 8192) -> bytes:
        """What the line takes out of a box, `count` bytes at most."""
        buffer = create_string_buffer(count)
        sent = self.c.host_send(box, buffer, count)
        return buffer.raw[:sent]

    def description(self, about: str, boot: int) -> bytes:
        """What a board says first whose description has this name in the library; without the zero byte before."""
        described = CDescription.in_dll(self.c, about)
        setup = CSetup(pointer(described), outbox_bytes=8192, inbox_bytes=64, edge_count=16, boot=boot)
        session = self.c.host_start(byref(setup), c_tick(0))
        identity = described.identity.contents
        for _ in range(1 + identity.channels + identity.inputs):
            self.c.session_poll(session, c_tick(0))
        sent = self.sent(self.c.host_box(session))
        *parts, _status, _ = sent.removeprefix(b"\0").split(b"\0")
        return b"\0".join([*parts, b""])

    def request(self, coded: bytes) -> tuple[str, Message | None]:
        """What the core hears in one frame of a PC, delimiter removed."""
        request, buffer = CRequest(), create_string_buffer(coded + b"\xee", len(coded) + 1)
        heard = HEARD[self.c.request_decode(buffer, len(coded), byref(request))]
        assert buffer.raw[len(coded)] == 0xEE  # nothing was written beyond the frame
        return heard, message_of(heard, request)

    def _write(self, box: Any, message: Message) -> bool:
        done: bool
        match message:
            case Identity():
                done = self.c.describe_identity(box, byref(c_identity(message)), message.boot, message.revision)
            case ChannelDescription():
                done = self.c.describe_channel(box, message.index, byref(c_channel(message)))
            case InputDescription():
                done = self.c.describe_input(box, message.index, byref(c_input(message)))
            case Samples() | Samples12() | Samples24():
                head = (_WORDS[type(message)], message.group, message.channels)
                when = c_tick(message.first_sample), c_tick(message.tick)
                done = self.c.wire_block(box, *head, *when, message.words, len(message.words))
            case Singles(singles):
                items = (CSingle * len(singles))(
                    *(CSingle(s.channel, s.number, c_tick(s.tick), s.code) for s in singles)
                )
                done = self.c.wire_singles(box, items, len(singles))
            case Counters(counts):
                told = (CCount * len(counts))(*(CCount(c.input, c.count, c_tick(c.tick)) for c in counts))
                done = self.c.wire_counters(box, told, len(counts))
            case Edges(first_edge, ticks, states):
                self.c.wire_edges_begin(box, first_edge)
                for tick, levels in zip(ticks, states, strict=True):
                    self.c.wire_edge(box, c_tick(tick), levels)
                done = self.c.frame_end(box)
            case Status():
                done = self.c.wire_status(box, byref(c_status(message)))
            case ClockReply(token, received, sent):
                done = self.c.wire_clock_reply(box, token.to_bytes(8, "little"), c_tick(received), c_tick(sent))
            case _:
                raise AssertionError(f"no board sends {type(message).__name__}")
        return done


def message_of(heard: str, request: CRequest) -> Message | None:
    match heard:
        case "describe":
            return Describe(request.major, request.minor)
        case "start":
            return Start()
        case "stop":
            return Stop()
        case "clock_request":
            return ClockRequest(int.from_bytes(bytes(request.token), "little"))
    return None


def c_identity(it: Identity) -> CIdentity:
    record = CIdentity(it.tick_hz, it.channels, it.inputs, extra=_extra(it.unknown))
    for name in ("serial", "model", "firmware", "source", "plate"):
        setattr(record, name, str(getattr(it, name)).encode())
    _give(record, it, {5: "clock_tolerance_ppm"})
    return record


def c_channel(it: ChannelDescription) -> CChannel:
    record = CChannel(it.role, it.name.encode(), it.place.encode(), it.unit.encode(), it.scale, it.offset)
    record.code_low, record.code_high, record.word = it.code_low, it.code_high, it.word
    if it.ticks_per_sample is not None:
        record.group = it.group
        record.ticks_per_sample = it.ticks_per_sample.numerator
        record.ticks_divisor = it.ticks_per_sample.denominator
    record.interval_ticks_max = c_tick(it.interval_ticks_max or 0)
    record.extra = _extra(it.unknown)
    record.kind, record.kind_ticks = it.kind, it.kind_ticks
    _give_delay(record, it, 12)
    limits = {13: "noise_codes_rms", 14: "gain_limit", 15: "offset_limit_codes"}
    _give(record, it, {**limits, 16: "corner_low_hz", 17: "corner_high_hz"})
    record.given |= (1 << 11 if it.kind or it.kind_ticks else 0) | (1 << 18 if it.ac_coupled else 0)
    return record


def c_input(it: InputDescription) -> CInput:
    record = CInput(it.kind, it.name.encode(), it.bit, extra=_extra(it.unknown))
    _give_delay(record, it, 6)
    _give(record, it, {4: "pulses_per_turn"})
    record.given |= 1 << 5 if it.inverted else 0
    record.look_ticks = it.look_ticks or 0
    return record


def c_status(it: Status) -> CStatus:
    extra = pack_fields(it.unknown)
    record = CStatus(c_tick(it.tick), it.streaming, it.levels, it.dropped_blocks, it.overruns, it.lost_edges)
    record.temperature_known, record.temperature_c = it.temperature_c is not None, _or_zero(it.temperature_c)
    record.supply_known, record.supply_v = it.supply_v is not None, _or_zero(it.supply_v)
    record.extra, record.extra_bytes = extra, len(extra)
    return record


def _or_zero(value: float | None) -> float:
    return 0.0 if value is None else value  # -0.0 has bits of its own


def _extra(unknown: Sequence[tuple[int, bytes]]) -> CExtra:
    packed = pack_fields(unknown)
    return CExtra(packed, len(packed))


def _give(record: Structure, it: object, optional: dict[int, str]) -> None:
    for tag, name in optional.items():
        if (value := getattr(it, name)) is not None:
            setattr(record, name, value)
            record.given |= 1 << tag


def _give_delay(record: Structure, it: ChannelDescription | InputDescription, tag: int) -> None:
    record.delay_ns = it.delay_ns
    record.delay_limit_ns = NOT_KNOWN if it.delay_limit_ns is None else it.delay_limit_ns
    record.given |= 1 << tag if it.delay_ns or it.delay_limit_ns is not None else 0
