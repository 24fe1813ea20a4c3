"""Words of sample blocks <-> FLAC, which is lossless (RFC 9639). 12 and 24 bits as 16 and 24."""

import os
import sys
from io import BytesIO
from typing import Any, BinaryIO

import numpy as np
import soundfile
from numpy.typing import NDArray

from firmware_protocol import WORD_CODING, Samples12, Samples24, Word
from server.stream.words import codes_of, kept

CHANNELS_MAX = 8  # of one FLAC stream
LEVEL = 6 / 8  # of 0 to 1, as libsndfile counts them: the least that asks for higher orders; 8 gains 1 % at most
_RATE_HZ = 48_000  # any: what is told of time stands in the blocks' own columns
_CODING12 = 0x888
_SUBTYPES = {Word.INT16: "PCM_16", Word.PACKED12: "PCM_16", Word.INT24: "PCM_24"}


def flacs_of(words: list[bytes], word: Word, channels: int) -> list[bytes]:
    """The words of blocks of one group, as so many streams as its channels need."""
    codes = _codes(words, word).reshape(-1, channels)
    return [_flac(codes[:, at : at + CHANNELS_MAX], word) for at in range(0, channels, CHANNELS_MAX)]


def words_of(flacs: list[bytes], sizes: list[int], word: Word, channels: int) -> list[bytes]:
    """The words of blocks again, each of so many bytes. Raises ValueError if the streams hold other counts."""
    bits = word.bits
    count = sum([8 * size // bits for size in sizes]) // channels
    widths = [min(CHANNELS_MAX, channels - at) for at in range(0, channels, CHANNELS_MAX)]
    codes = np.hstack([_pcm(each, word, (count, width)) for each, width in zip(flacs, widths, strict=True)])
    return _words(np.ascontiguousarray(codes).reshape(-1), word, sizes)


def _flac(codes: NDArray[Any], word: Word) -> bytes:
    if word is Word.INT24:
        codes = codes << 8  # libsndfile takes the upper 24 bits
    how: dict[str, Any] = {"format": "FLAC", "subtype": _SUBTYPES[word], "compression_level": LEVEL}
    with _memory() as file:
        soundfile.write(_opened_by(file), codes, _RATE_HZ, closefd=False, **how)
        file.seek(0)
        return file.read()


def _pcm(flac: bytes, word: Word, shape: tuple[int, int]) -> NDArray[Any]:
    with _memory() as memory:
        memory.write(flac)
        memory.seek(0)
        with soundfile.SoundFile(_opened_by(memory), closefd=False) as file:
            if (file.frames, file.channels, file.format) != (*shape, "FLAC"):
                raise ValueError(f"{file.frames} sets of {file.channels} channels where {shape} are due")
            codes: NDArray[Any] = file.read(dtype="int32" if word is Word.INT24 else "int16", always_2d=True)
    return codes >> 8 if word is Word.INT24 else codes


def _memory() -> BinaryIO:
    """A file in memory. Linux has such with a number; for any other, soundfile makes code while it runs, which the
    service's unit forbids (MemoryDenyWriteExecute)."""
    return os.fdopen(os.memfd_create("flac"), "w+b") if sys.platform == "linux" else BytesIO()


def _opened_by(file: BinaryIO) -> int | BinaryIO:
    return file.fileno() if sys.platform == "linux" else file


def _codes(words: list[bytes], word: Word) -> NDArray[Any]:
    """The codes of blocks, one behind the other."""
    if word is Word.INT16:
        return codes_of(b"".join(words), word)
    if word is Word.INT24:
        return codes_of(kept(Samples24(0, 1, 0, 0, b"".join(words))).words, word)
    if any(len(each) % 3 for each in words):  # an odd count ends with half a byte that is none
        return np.concatenate([codes_of(kept(Samples12(0, 1, 0, 0, each)).words, word) for each in words])
    return codes_of(kept(Samples12(0, 1, 0, 0, b"".join(words))).words, word)


def _words(codes: NDArray[Any], word: Word, sizes: list[int]) -> list[bytes]:
    if word is Word.INT16:
        return _cut((codes.view("<u2") ^ WORD_CODING).tobytes(), sizes)
    if word is Word.INT24:
        return _cut((codes.astype("<i4").view(np.uint8).reshape(-1, 4)[:, :3] ^ 0x80).tobytes(), sizes)
    plain = np.bitwise_xor(codes.view(np.uint16) & np.uint16(0xFFF), np.uint16(_CODING12))
    if not any(size % 3 for size in sizes):
        return _cut(_two_in_three(plain), sizes)
    ends = np.cumsum([8 * size // word.bits for size in sizes])
    return [_two_in_three(each)[:size] for each, size in zip(np.split(plain, ends[:-1]), sizes, strict=True)]


def _two_in_three(codes: NDArray[np.uint16]) -> bytes:
    first, second = np.append(codes, np.zeros(codes.size % 2, np.uint16)).reshape(-1, 2).T
    three = np.stack((first & 0xFF, first >> 8 | (second & 0x0F) << 4, second >> 4), axis=1)
    return three.astype(np.uint8).tobytes()


def _cut(data: bytes, sizes: list[int]) -> list[bytes]:
    pieces, at = [], 0
    for size in sizes:
        pieces.append(data[at : at + size])
        at += size
    return pieces
