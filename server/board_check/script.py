"""What is said to a board, and for how long it is listened to. Pure: whoever has a line carries it out.

Sent are the four requests of SPEC.md and, once, rubbish; nothing else. None of it acts on a motor.
"""

from collections.abc import Callable, Iterator
from dataclasses import dataclass
from random import Random

from firmware_protocol import PROTOCOL_MAJOR, Describe, Message, Start, Stop, cobs, encode_frame
from firmware_protocol.crc import crc32
from server.board_check.record import AGAIN, BEHIND, DESCRIBE, IDLE, OTHER, RUBBISH, SETTLE, STILL, STOP, STREAM

CLOCK_EVERY_S = 0.25
_WITHIN_S = 1.3  # a description is due within 1 s
_RUBBISH_BYTES = 300
_NO_TYPE = 0xFE
OTHER_VERSION = Describe(PROTOCOL_MAJOR + 1, 0)


class Voice:
    """A PC's frames, numbered as they leave (SPEC.md, section 5)."""

    def __init__(self) -> None:
        self._sequence = 0

    def frame(self, message: Message) -> bytes:
        """Its bytes on the wire."""
        return encode_frame(message, sequence=self._number())

    def damaged(self, message: Message) -> bytes:
        """The same with one bit of its header spoilt."""
        frame = self.frame(message)
        return frame[:5] + bytes((frame[5] ^ 0x20,)) + frame[6:]

    def unknown(self) -> bytes:
        """A good frame of a type that nobody knows."""
        raw = bytes((_NO_TYPE, 0)) + self._number().to_bytes(2, "little")
        return cobs.encode(raw + crc32(raw).to_bytes(4, "little")) + b"\0"

    def _number(self) -> int:
        self._sequence += 1
        return self._sequence - 1


@dataclass(frozen=True, slots=True)
class Step:
    """Say this, then listen for so long; ask for the clock meanwhile or not."""

    phase: str
    says: Callable[[Voice], bytes]
    listen_s: float
    clock: bool = False


def script(seconds: float, answers: bool = True, seed: int = 0) -> Iterator[Step]:
    """The whole talk; `seconds` of it the board streams at full rate. Without `answers` nothing is said."""
    yield Step(SETTLE, _nothing, 0.5)
    if not answers:
        yield Step(STREAM, _nothing, seconds)
        return
    yield Step(DESCRIBE, _frame(Describe()), _WITHIN_S)
    yield Step(STREAM, _frame(Start()), seconds, clock=True)
    yield Step(OTHER, _frame(OTHER_VERSION), _WITHIN_S)
    yield Step(RUBBISH, lambda voice: rubbish(seed, voice), 0.2)  # a board has room for one request: let this be gone
    yield Step(BEHIND, _frame(Describe()), _WITHIN_S)
    yield Step(STOP, _frame(Stop()), 0.8)
    yield Step(STILL, lambda voice: voice.damaged(Start()) + voice.frame(Stop()), 0.3)
    yield Step(IDLE, _frame(Describe()), _WITHIN_S, clock=True)
    yield Step(AGAIN, _frame(Start()), 1.0)


def _nothing(_: Voice) -> bytes:
    return b""


def _frame(message: Message) -> Callable[[Voice], bytes]:
    return lambda voice: voice.frame(message)


def rubbish(seed: int, voice: Voice) -> bytes:
    """Random bytes, a long frame, a damaged Stop, a type that nobody knows, a Describe that is cut short."""
    draw = Random(seed)
    noise = bytes(draw.randrange(256) for _ in range(_RUBBISH_BYTES))
    begun = b"\0".join((noise, b"\x55" * _RUBBISH_BYTES, b""))
    return begun + voice.damaged(Stop()) + voice.unknown() + voice.frame(Describe())[:-3] + b"\0"
