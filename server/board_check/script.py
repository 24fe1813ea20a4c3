"""What is said to a board, and for how long it is listened to. Pure: whoever has a line carries it out.

Sent are the four requests of SPEC.md and, once, rubbish; nothing else. None of it acts on a motor.
"""

from collections.abc import Iterator
from dataclasses import dataclass
from random import Random

from firmware_protocol import Describe, Start, Stop, cobs, encode_frame
from firmware_protocol.crc import crc32
from server.board_check.record import AGAIN, BEHIND, DESCRIBE, IDLE, OTHER, RUBBISH, SETTLE, STILL, STOP, STREAM

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


def script(seconds: float, answers: bool = True, seed: int = 0) -> Iterator[Step]:
    """The whole talk; `seconds` of it the board streams at full rate. Without `answers` nothing is said."""
    yield Step(SETTLE, b"", 0.5)
    if not answers:
        yield Step(STREAM, b"", seconds)
        return
    yield Step(DESCRIBE, encode_frame(Describe(), sequence=0), _WITHIN_S)
    yield Step(STREAM, encode_frame(Start(), sequence=1), seconds, clock=True)
    yield Step(OTHER, encode_frame(Describe(255, 255), sequence=2), _WITHIN_S)
    yield Step(RUBBISH, rubbish(seed), 0.2)  # a board has room for one request: let it throw this away first
    yield Step(BEHIND, encode_frame(Describe(), sequence=7), _WITHIN_S)
    yield Step(STOP, encode_frame(Stop(), sequence=8), 0.8)
    yield Step(STILL, _damaged(Start()) + encode_frame(Stop(), sequence=10), 0.3)
    yield Step(IDLE, encode_frame(Describe(), sequence=11), _WITHIN_S, clock=True)
    yield Step(AGAIN, encode_frame(Start(), sequence=12), 1.0)


def rubbish(seed: int) -> bytes:
    """Random bytes, an endless frame, a damaged Stop, a type that nobody knows, a Describe that is cut short."""
    draw = Random(seed)
    noise = bytes(draw.randrange(256) for _ in range(_RUBBISH_BYTES))
    raw = bytes((_NO_TYPE, 0, 4, 0))
    unknown = cobs.encode(raw + crc32(raw).to_bytes(4, "little"))
    cut = encode_frame(Describe(), sequence=5)[:-3]
    return b"\0".join((noise, b"\x55" * _RUBBISH_BYTES, _damaged(Stop())[:-1], unknown, cut, b""))


def _damaged(request: Start | Stop) -> bytes:
    """One bit of its checksum is another."""
    frame = encode_frame(request, sequence=3)
    return frame[:5] + bytes((frame[5] ^ 0x20,)) + frame[6:]
