"""Bytes in any cut -> messages and damage, in the order of the wire.

No I/O, no clock, no exception on wire damage; kept are the frame that is coming and the last few that came.
What comes out depends on the bytes only, not on how they were cut: a finding is told when its delimiter has come.
"""

from collections import deque

from firmware_protocol.errors import Damage, DamageKind, FrameError
from firmware_protocol.frame import ENCODED_FRAME_MAX, SEQUENCE_MODULUS, message_of, open_frame
from firmware_protocol.messages import Message
from firmware_protocol.record import record

CHUNK_MAX = 1 << 16  # a longer chunk is taken in slices, so that a flood of delimiters makes no huge list
TO_BOARD_FROM = 0x80  # message types from here on go from PC to board
RECENT_FRAMES = 16  # how far back a doubled frame is known again: what a buffer on the way may send twice


@record
class Received:
    """A good message with its place on the wire. `boot` changes when the board has started anew."""

    message: Message
    boot: int
    sequence: int
    offset: int


class Decoder:
    """Feed it bytes; it returns what is complete: good messages (`Received`) and `Damage`.

    `from_board`: only a board is to be heard. Frames of a PC are then echoes, whose numbers are none of the board's.
    """

    def __init__(self, from_board: bool = False) -> None:
        self._from_board = from_board
        self._tail = b""
        self._dropped = 0  # bytes of an endless frame that are no longer kept
        self._offset = 0  # stream offset of the first byte of the current frame
        self._boot = -1  # of the frame before; no frame has this one
        self._expected = 0  # sequence number of the next frame, if the board goes on
        self._recent: deque[bytes] = deque(maxlen=RECENT_FRAMES)
        self.good_frames = 0

    @property
    def pending_bytes(self) -> int:
        """Bytes since the last delimiter, kept or not."""
        return len(self._tail) + self._dropped

    def feed(self, data: bytes) -> list[Received | Damage]:
        """Take the next bytes of the stream, any number of them."""
        found: list[Received | Damage] = []
        for at in range(0, len(data), CHUNK_MAX):
            self._split(data[at : at + CHUNK_MAX], found)
        return found

    def _split(self, data: bytes, found: list[Received | Damage]) -> None:
        frames = (self._tail + data).split(b"\0")
        tail = frames.pop()
        for coded in frames:
            length = len(coded) + self._dropped
            if length:  # two delimiters in a row are allowed: a board may send one to wake the line
                self._take(coded, length, found)
            self._offset += length + 1
            self._dropped = 0
        surplus = len(tail) - (ENCODED_FRAME_MAX + 1)
        if surplus > 0:  # keep one byte too many, so that the frame is still known as too long
            tail = tail[surplus:]
            self._dropped += surplus
        self._tail = tail

    def _take(self, coded: bytes, length: int, found: list[Received | Damage]) -> None:
        offset = self._offset
        if length > ENCODED_FRAME_MAX:
            found.append(Damage(DamageKind.TOO_LONG, offset, length, f"{length} bytes without a delimiter"))
            return
        try:
            kind, boot, sequence, payload = open_frame(coded)
        except FrameError as error:
            damage = DamageKind.CUT_START if offset == 0 else error.kind
            found.append(Damage(damage, offset, length, error.detail))
            return
        if self._from_board and kind >= TO_BOARD_FROM:
            found.append(Damage(DamageKind.ECHO, offset, length, f"message type 0x{kind:02x}"))
            return
        self.good_frames += 1
        if (sequence != self._expected or boot != self._boot) and not self._accept(coded, boot, sequence, found):
            return
        self._boot, self._expected = boot, (sequence + 1) % SEQUENCE_MODULUS
        self._recent.append(coded)
        try:
            message = message_of(kind, payload)
        except FrameError as error:
            found.append(Damage(error.kind, offset, length, error.detail))
            return
        if message is None:
            found.append(Damage(DamageKind.UNKNOWN, offset, length, f"message type 0x{kind:02x}"))
        else:
            found.append(Received(message, boot, sequence, offset))

    def _accept(self, coded: bytes, boot: int, sequence: int, found: list[Received | Damage]) -> bool:
        """Say what a frame out of turn means; False if these very bytes came before.

        Numbers count within one start of the sender, from 0. One that goes back is taken all the same: a board
        that forgot its boot number must not fall silent. How many frames are missing then nobody can know.
        Number 0 is never a doubled frame: a PC that opens the line again says the very same as the first time.
        """
        if sequence and coded in self._recent:
            found.append(Damage(DamageKind.DOUBLED, self._offset, len(coded), f"frame {sequence} came twice"))
            return False
        if self._boot < 0:
            return True
        goes_on = boot == self._boot
        missing = (sequence - (self._expected if goes_on else 0)) % SEQUENCE_MODULUS
        if goes_on and missing >= SEQUENCE_MODULUS // 2:
            detail = f"numbers went back to {sequence} where {self._expected} was due"
            found.append(Damage(DamageKind.LOST, self._offset, 0, detail, 0))
            self._recent.clear()  # a new start may say the same again
        elif missing:
            detail = f"{missing} frames before {sequence}"
            found.append(Damage(DamageKind.LOST, self._offset, 0, detail, missing))
        return True
