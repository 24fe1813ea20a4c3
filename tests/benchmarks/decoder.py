"""Decoder.feed against the least that a program can do: split at zeros, COBS in C, zlib's CRC-32."""

from collections.abc import Callable

import numpy as np
from cobs import cobs as cobs_in_c
from numpy.typing import NDArray

from firmware_protocol import Decoder, Samples, encode_frame
from firmware_protocol.crc import crc32
from simulator.faults import Faults
from tests.benchmarks.pairs import Row, cpu_ratio

CHANNELS, SETS, RATE_HZ, TICK_HZ = 8, 32, 20_000, 1_000_000
FRAMES = 625  # a second of the reference board
CHUNK = 4096  # what one read of a tty gives
DAMAGED = 0.01


def measure(pairs: int) -> list[Row]:
    """The rows of goal 2: whole chunks, pieces of 64 bytes, one frame in a hundred damaged, a motor at rest."""
    running, rest = stream(0.4), stream(0.0)
    faults = Faults(1, lost_bytes=DAMAGED / 4, lost_frames=DAMAGED / 4, flipped=DAMAGED / 4, cut_off=DAMAGED / 4)
    damaged = faults.apply(running)
    whole = fed(running, CHUNK)
    return [
        Row("2", "decoder, chunks of 4 kB, to split, C cobs, zlib.crc32", cpu_ratio(whole, least(running), pairs), 8.0),
        Row("2", "decoder, pieces of 64 bytes, to whole chunks", cpu_ratio(fed(running, 64), whole, pairs), 3.0),
        Row("2", "decoder, 1 % of frames damaged, to none", cpu_ratio(fed(damaged, CHUNK), whole, pairs), 1.2),
        Row("2", "decoder, a motor at rest, to running", cpu_ratio(fed(rest, CHUNK), whole, pairs), 1.2),
    ]


def stream(amplitude: float) -> bytes:
    """A second of eight channels, sines of this share of the range with noise of 3 codes RMS."""
    draw = np.random.default_rng(1)
    times_s = np.arange(FRAMES * SETS) / RATE_HZ
    values = 32767 * amplitude * np.sin(2 * np.pi * 50 * times_s)[:, np.newaxis] * np.linspace(0.3, 1, CHANNELS)
    codes: NDArray[np.int16] = np.rint(values + draw.normal(0, 3, values.shape)).astype("<i2")
    words = (codes.view("<u2") ^ 0x8080).reshape(FRAMES, -1)
    ticks = SETS * TICK_HZ // RATE_HZ
    blocks = [Samples(0, CHANNELS, SETS * k, ticks * k, words[k].tobytes()) for k in range(FRAMES)]
    return b"".join(encode_frame(block, sequence=k, boot=3) for k, block in enumerate(blocks))


def fed(data: bytes, size: int) -> Callable[[], object]:
    pieces = [data[at : at + size] for at in range(0, len(data), size)]

    def run() -> None:
        decoder = Decoder()
        for piece in pieces:
            decoder.feed(piece)

    return run


def least(data: bytes) -> Callable[[], object]:
    def run() -> int:
        good = 0
        for coded in data.split(b"\0"):
            if coded:
                raw = cobs_in_c.decode(coded)
                good += crc32(raw[:-4]) == int.from_bytes(raw[-4:], "little")
        return good

    return run
