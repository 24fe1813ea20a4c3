"""Board to PC: blocks of even channels, in words of 16 bits, of 12 packed two in three bytes, or of 24.

Sample k of a block was taken at tick + k * ticks_per_sample; `first_sample` counts the group's sets since the board
started. The channels of a set stand in the order of their index. `words` is kept as it came: whoever computes with the
codes takes it apart, many blocks at a time.
"""

from enum import IntEnum
from struct import Struct
from typing import ClassVar, Self, TypeAlias

from firmware_protocol.errors import EncodeError, malformed
from firmware_protocol.fields import need, tick_bytes
from firmware_protocol.record import record

WORD_CODING = 0x8080  # sample words are xored with it: zero becomes 0x8080, so a motor at rest has no zero bytes

_HEAD = Struct("<BBIHIH")
_HALF = 0x0F


class Word(IntEnum):
    """How the codes of a group are written, and so which message brings them."""

    INT16 = 0
    PACKED12 = 1
    INT24 = 2

    @property
    def bits(self) -> int:
        """Of one code on the wire."""
        return _BITS[self]

    def bytes_of(self, codes: int) -> int:
        """How many bytes so many codes take in a block."""
        return (codes * self.bits + 7) // 8


_BITS = {Word.INT16: 16, Word.PACKED12: 12, Word.INT24: 24}


@record
class Samples:
    """A block of int16, little endian, xored with 0x8080. Nearly all frames are these."""

    TYPE: ClassVar[int] = 0x10
    group: int
    channels: int
    first_sample: int
    tick: int
    words: bytes

    def payload(self) -> bytes:
        return _payload(self, Word.INT16)

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        if len(payload) < _HEAD.size:
            need(payload, _HEAD.size, "samples")
        # Most frames are these: one call takes the 48-bit counters as their lower 32 and upper 16 bits.
        group, channels, sample_low, sample_high, tick_low, tick_high = _HEAD.unpack_from(payload)
        words = payload[_HEAD.size :]
        if channels == 0 or not words or len(words) % (2 * channels):
            raise malformed("samples: not whole sets of channels")
        return cls(group, channels, sample_high << 32 | sample_low, tick_high << 32 | tick_low, words)

    @property
    def count(self) -> int:
        """Sample sets in the block."""
        return len(self.words) // (2 * self.channels)


@record
class Samples12:
    """A block of 12-bit codes, each xored with 0x888, two in three bytes.

    These are the low eight bits of the first; its high four in the low half of a byte with the low four of the second;
    the high eight of the second. An odd one at the end takes two bytes, whose last half byte is 0.
    """

    TYPE: ClassVar[int] = 0x16
    group: int
    channels: int
    first_sample: int
    tick: int
    words: bytes

    def payload(self) -> bytes:
        if len(self.words) % 3 and self.words[-1] > _HALF:
            raise EncodeError("half a byte too many")
        return _payload(self, Word.PACKED12)

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        block = cls(*_parsed(payload, Word.PACKED12))
        if len(block.words) % 3 and block.words[-1] > _HALF:
            raise malformed("samples: half a byte too many")
        return block


@record
class Samples24:
    """A block of 24-bit codes, little endian, xored with 0x808080."""

    TYPE: ClassVar[int] = 0x17
    group: int
    channels: int
    first_sample: int
    tick: int
    words: bytes

    def payload(self) -> bytes:
        return _payload(self, Word.INT24)

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        return cls(*_parsed(payload, Word.INT24))


Block: TypeAlias = Samples | Samples12 | Samples24


def whole_sets(word: Word, channels: int, length: int) -> bool:
    """So many bytes are whole sets of so many channels, at least one."""
    codes = 8 * length // word.bits
    return bool(channels and codes) and codes % channels == 0 and word.bytes_of(codes) == length


def _payload(block: Block, word: Word) -> bytes:
    if not whole_sets(word, block.channels, len(block.words)):
        raise EncodeError(f"{len(block.words)} bytes are not whole sets of {block.channels} channels")
    head = bytes((block.group, block.channels)) + tick_bytes(block.first_sample) + tick_bytes(block.tick)
    return head + block.words


def _parsed(payload: bytes, word: Word) -> tuple[int, int, int, int, bytes]:
    need(payload, _HEAD.size, "samples")
    group, channels, sample_low, sample_high, tick_low, tick_high = _HEAD.unpack_from(payload)
    words = payload[_HEAD.size :]
    if not whole_sets(word, channels, len(words)):
        raise malformed("samples: not whole sets of channels")
    return group, channels, sample_high << 32 | sample_low, tick_high << 32 | tick_low, words
