"""Codes of sample sets -> a block in the words that its group is described with."""

import numpy as np
from numpy.typing import NDArray

from firmware_protocol import WORD_CODING, SampleBlock, Samples, Samples12, Samples24, Word


def block_of(word: Word, group: int, first_sample: int, tick: int, codes: NDArray[np.int32]) -> SampleBlock:
    """`codes`: (sets, channels)."""
    channels = codes.shape[1]
    if word is Word.PACKED12:
        return Samples12(group, channels, first_sample, tick, _of_12(codes.reshape(-1)))
    if word is Word.INT24:
        return Samples24(group, channels, first_sample, tick, _of_24(codes.reshape(-1)))
    words = codes.astype("<i2").view("<u2") ^ np.uint16(WORD_CODING)
    return Samples(group, channels, first_sample, tick, words.tobytes())


def _of_12(codes: NDArray[np.int32]) -> bytes:
    coded = (codes & 0xFFF) ^ 0x888
    first, second = coded[::2], np.zeros(coded[::2].shape[0], np.int32)
    second[: coded[1::2].shape[0]] = coded[1::2]
    three = np.stack((first, first >> 8 | second << 4, second >> 4), axis=1).astype(np.uint8).tobytes()
    return three[:-1] if coded.shape[0] % 2 else three


def _of_24(codes: NDArray[np.int32]) -> bytes:
    return ((codes.astype("<i4").view(np.uint8).reshape(-1, 4)[:, :3]) ^ 0x80).tobytes()
