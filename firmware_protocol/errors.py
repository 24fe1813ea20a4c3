"""What can be wrong with a frame, and whose fault it is.

Damage is a value: the decoder returns it and goes on. Exceptions here are for the sender's own
misuse (a message that does not fit) and travel only inside this package when bytes are taken apart.
"""

from dataclasses import dataclass
from enum import StrEnum


class DamageKind(StrEnum):
    """Kinds of damage on the wire, as they are counted and reported."""

    CUT_START = "cut_start"  # the very first bytes were the end of a frame: nothing is wrong
    STUFFING = "stuffing"  # the zero-free coding does not add up
    CHECKSUM = "checksum"  # CRC-32 differs
    SHORT = "short"  # fewer bytes than header and checksum
    TOO_LONG = "too_long"  # more bytes than the largest frame
    MALFORMED = "malformed"  # checksum right, contents impossible
    LOST = "lost"  # sequence numbers missing before this frame; `frames` says how many, 0 where nobody can know
    DOUBLED = "doubled"  # the same bytes again; the second frame is dropped
    ECHO = "echo"  # a frame of a PC where only a board speaks: our own request has come back
    UNKNOWN = "unknown"  # a message type this version does not know: skipped, not an error


@dataclass(frozen=True, slots=True)
class Damage:
    """One finding. `offset` counts bytes of the stream from the first byte fed to the decoder."""

    kind: DamageKind
    offset: int
    length: int
    detail: str
    frames: int = 1


class FrameError(ValueError):
    """A frame that cannot be taken apart; carries the kind under which it is reported."""

    def __init__(self, kind: DamageKind, detail: str) -> None:
        super().__init__(detail)
        self.kind = kind
        self.detail = detail


def malformed(detail: str) -> FrameError:
    """A frame whose checksum is right and whose contents no board can mean."""
    return FrameError(DamageKind.MALFORMED, detail)


class EncodeError(ValueError):
    """Our own misuse: a message that cannot be written as a frame."""
