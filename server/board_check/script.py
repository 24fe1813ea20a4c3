"""What is said to a board, and for how long it is listened to. Pure: whoever has a line carries it out.

Sent are the four requests of SPEC.md and, once, rubbish; nothing else. None of it acts on a motor.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

from firmware_protocol import Describe, Start, Stop, cobs, encode_frame
from firmware_protocol.crc import crc32
from server.board_check.record import AGAIN, DESCRIBE, OTHER, RUBBISH, SETTLE, STOP, STREAM

CLOCK_EVERY_S = 0.25
_WITHIN_S = 1.3  # a description is due within 1 s
_RUBBISH_BYTES = 300
_NO_TYPE = 0xFE


@dataclass(frozen=True, slots=True)
class Step:
    """Send these bytes, then listen for so long; ask for the clock meanwhile or not."""

    phase: str
    data: bytes
    listen_s: float
    clock: bool = False


def script(seconds: float, seed: int = 0) -> Iterator[Step]:
    """The whole talk; `seconds` of it the board streams at full rate."""
    yield Step(SETTLE, b"", 0.5)
    yield Step(DESCRIBE, encode_frame(Describe(), sequence=0), _WITHIN_S)
    yield Step(STREAM, encode_frame(Start(), sequence=1), seconds, clock=True)
    yield Step(OTHER, encode_frame(Describe(255, 255), sequence=2), _WITHIN_S)
    yield Step(RUBBISH, rubbish(seed) + encode_frame(Describe(), sequence=7), _WITHIN_S)
    yield Step(STOP, encode_frame(Stop(), sequence=8), 1.0)
    yield Step(AGAIN, encode_frame(Start(), sequence=9), 1.0)


def rubbish(seed: int) -> bytes:
    """Random bytes, an endless frame, a damaged Stop, a type that nobody knows, a Describe that is cut short."""
    draw = Random(seed)
    noise = bytes(draw.randrange(256) for _ in range(_RUBBISH_BYTES))
    stop = encode_frame(Stop(), sequence=3)
    damaged = stop[:4] + bytes((stop[4] ^ 0x20,)) + stop[5:]
    raw = bytes((_NO_TYPE, 0, 4, 0))
    unknown = cobs.encode(raw + crc32(raw).to_bytes(4, "little"))
    cut = encode_frame(Describe(), sequence=5)[:-3]
    return b"\0".join((noise, b"\x55" * _RUBBISH_BYTES, damaged[:-1], unknown, cut, b""))
