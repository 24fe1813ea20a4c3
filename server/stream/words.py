"""Codes of a block as they are kept until somebody wants SI units. Pure.

A group of 16 bits keeps the words of the wire, untouched: that is nearly every block. Twelve bits become the same
words; 24 bits become int32, without the coding of the wire.
"""

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import WORD_CODING, SampleBlock, Samples, Word

_CODING12, _SIGN12 = 0x888, 0x800


def kept_bytes(word: Word) -> int:
    """Of one code."""
    return 4 if word is Word.INT24 else 2


def kept(block: SampleBlock) -> Samples:
    """The same block with its codes as they are kept."""
    if isinstance(block, Samples):
        return block
    words = _of_12(block.words) if block.WORD is Word.PACKED12 else _of_24(block.words)
    return Samples(block.group, block.channels, block.first_sample, block.tick, words)


def codes_of(words: bytes, word: Word) -> NDArray[np.int16] | NDArray[np.int32]:
    """The codes in what is kept, one after another."""
    if word is Word.INT24:
        return np.frombuffer(words, dtype="<i4")
    return (np.frombuffer(words, dtype="<u2") ^ WORD_CODING).view("<i2")


def _of_12(words: bytes) -> bytes:
    odd = len(words) % 3
    low, middle, high = np.frombuffer(words + b"\0" if odd else words, np.uint8).reshape(-1, 3).T.astype(np.uint16)
    codes = np.stack((low | (middle & 0x0F) << 8, middle >> 4 | high << 4), axis=1).reshape(-1)
    # Out of the coding and the 12 bits: the sign bit is turned over and taken off again.
    codes = ((codes ^ _CODING12 ^ _SIGN12) - _SIGN12) ^ WORD_CODING
    return codes[: codes.shape[0] - bool(odd)].astype("<u2").tobytes()


def _of_24(words: bytes) -> bytes:
    three = np.frombuffer(words, np.uint8).reshape(-1, 3) ^ 0x80
    four = np.zeros((three.shape[0], 4), np.uint8)
    four[:, 1:] = three
    return (four.view("<i4") >> 8).tobytes()
