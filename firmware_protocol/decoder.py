"""Bytes in any cut -> messages and damage, in the order of the wire.

No I/O, no clock, no exception on wire damage, and never more than one frame kept. What comes out
depends on the bytes only, not on how they were cut: a finding is told when its delimiter has come.
"""

from dataclasses import dataclass

from firmware_protocol.errors import Damage, DamageKind, FrameError
from firmware_protocol.frame import ENCODED_FRAME_MAX, SEQUENCE_MODULUS, decode_frame
from firmware_protocol.messages import Message


@dataclass(frozen=True, slots=True)
class Received:
    """A good message with its place on the wire. `boot` changes when the board has started anew."""

    message: Message
    boot: int
    sequence: int
    offset: int


class Decoder:
    """Feed it bytes; it returns what is complete: good messages (`Received`) and `Damage`."""

    def __init__(self) -> None:
        self._tail = b""
        self._dropped = 0  # bytes of an endless frame that are no longer kept
        self._offset = 0  # stream offset of the first byte of the current frame
        self._last: tuple[int, int] | None = None  # boot and sequence of the frame before
        self.good_frames = 0

    @property
    def pending_bytes(self) -> int:
        """Bytes since the last delimiter, kept or not."""
        return len(self._tail) + self._dropped

    def feed(self, data: bytes) -> list[Received | Damage]:
        """Take the next bytes of the stream, any number of them."""
        found: list[Received | Damage] = []
        *frames, tail = (self._tail + data).split(b"\0")
        for coded in frames:
            self._take(coded, found)
        self._tail = tail
        surplus = len(tail) - (ENCODED_FRAME_MAX + 1)
        if surplus > 0:  # keep one byte too many, so that the frame is still known as too long
            self._tail = tail[surplus:]
            self._dropped += surplus
        return found

    def _take(self, coded: bytes, found: list[Received | Damage]) -> None:
        offset, length = self._offset, len(coded) + self._dropped
        self._offset += length + 1
        self._dropped = 0
        if length == 0:  # two delimiters in a row are allowed: a board may send one to wake the line
            return
        try:
            if length > ENCODED_FRAME_MAX:
                raise FrameError(DamageKind.TOO_LONG, f"{length} bytes without a delimiter")
            frame = decode_frame(coded)
        except FrameError as error:
            kind = DamageKind.CUT_START if offset == 0 else error.kind
            found.append(Damage(kind, offset, length, error.detail))
            return
        self.good_frames += 1
        if not self._in_turn(frame.boot, frame.sequence, offset, length, found):
            return
        try:
            message = frame.message()
        except FrameError as error:
            found.append(Damage(error.kind, offset, length, error.detail))
            return
        if message is None:
            found.append(Damage(DamageKind.UNKNOWN, offset, length, f"message type 0x{frame.type:02x}"))
        else:
            found.append(Received(message, frame.boot, frame.sequence, offset))

    def _in_turn(self, boot: int, sequence: int, offset: int, length: int, found: list[Received | Damage]) -> bool:
        """Report frames missing before this one; False if it is the last frame come twice."""
        last, self._last = self._last, (boot, sequence)
        if last is None or last[0] != boot:
            return True
        missing = (sequence - last[1] - 1) % SEQUENCE_MODULUS
        if missing == SEQUENCE_MODULUS - 1:
            found.append(Damage(DamageKind.DOUBLED, offset, length, f"frame {sequence} came twice"))
            return False
        if missing:
            found.append(Damage(DamageKind.LOST, offset, 0, f"{missing} frames before {sequence}", missing))
        return True
