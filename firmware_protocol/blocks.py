"""Board to PC: blocks of even channels, in words of 16 bits, of 12 packed two in three bytes, or of 24.

Sample k of a block was taken at tick + k * ticks_per_sample; `first_sample` counts the group's sets since the board
started. The channels of a set stand in the order of their index. `words` is kept as it came: whoever computes with the
codes takes it apart, many blocks at a time.
"""

from enum import IntEnum
from struct import Struct
from typing import ClassVar, Self

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
class SampleBlock:
    """What all three have, and how those whose words are no round number of bytes are written and read."""

    TYPE: ClassVar[int]
    WORD: ClassVar[Word]
    group: int
    channels: int
    first_sample: int
    tick: int
    words: bytes

    def payload(self) -> bytes:
        if not whole_sets(self.WORD, self.channels, len(self.words)):
            raise EncodeError(f"{len(self.words)} bytes are not whole sets of {self.channels} channels")
        if _half_too_many(self.WORD, self.words):
            raise EncodeError("half a byte too many")
        head = bytes((self.group, self.channels)) + tick_bytes(self.first_sample) + tick_bytes(self.tick)
        return head + self.words

    @property
    def count(self) -> int:
        """Sample sets in the block."""
        return 8 * len(self.words) // self.WORD.bits // self.channels

    @classmethod
    def parse(cls, payload: bytes) -> Self:
        need(payload, _HEAD.size, "samples")
        group, channels, sample_low, sample_high, tick_low, tick_high = _HEAD.unpack_from(payload)
        words = payload[_HEAD.size :]
        if not whole_sets(cls.WORD, channels, len(words)):
            raise malformed("samples: not whole sets of channels")
        if _half_too_many(cls.WORD, words):
            raise malformed("samples: half a byte too many")
        return cls(group, channels, sample_high << 32 | sample_low, tick_high << 32 | tick_low, words)


@record
class Samples(SampleBlock):
    """A block of int16, little endian, xored with 0x8080."""

    TYPE: ClassVar[int] = 0x10
    WORD: ClassVar[Word] = Word.INT16

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


@record
class Samples12(SampleBlock):
    """A block of 12-bit codes, each xored with 0x888, two in three bytes.

    These are the low eight bits of the first; its high four in the low half of a byte with the low four of the second;
    the high eight of the second. An odd one at the end takes two bytes, whose last half byte is 0.
    """

    TYPE: ClassVar[int] = 0x16
    WORD: ClassVar[Word] = Word.PACKED12


@record
class Samples24(SampleBlock):
    """A block of 24-bit codes, little endian, xored with 0x808080."""

    TYPE: ClassVar[int] = 0x17
    WORD: ClassVar[Word] = Word.INT24


def whole_sets(word: Word, channels: int, length: int) -> bool:
    """So many bytes are whole sets of so many channels, at least one."""
    codes = 8 * length // word.bits
    return bool(channels and codes) and codes % channels == 0 and word.bytes_of(codes) == length


def _half_too_many(word: Word, words: bytes) -> bool:
    return word is Word.PACKED12 and len(words) % 3 != 0 and words[-1] > _HALF
