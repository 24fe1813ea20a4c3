"""The full board of SPEC.md section 15: a file of wire bytes, and a process that sends it through a pty in real time.

python -m tests.seeded.full_profile FILE SECONDS      prints the pty's name, begins when something comes to it
"""

import os
import sys
import time
import tty
from collections.abc import Iterator
from fractions import Fraction
from pathlib import Path

import numpy as np

from firmware_protocol import (
    WORD_CODING,
    ChannelDescription,
    Identity,
    Message,
    Role,
    Samples,
    Status,
    encode_frame,
)

CHANNELS, RATE_HZ, SETS, TICK_HZ = 8, 20_000, 60, 1_000_000
_TICKS = TICK_HZ // RATE_HZ
_BLOCKS_PER_S = RATE_HZ / SETS
_DESCRIBE_BLOCKS, _STATUS_BLOCKS = 3000, 60  # nine seconds; 180 ms
_PAUSE_S = 0.003  # a pty holds 4 kB, and 12 ms of this board


def messages(seconds: float) -> Iterator[Message]:
    """Supply voltage, line current and six more, with a wave on each."""
    period = RATE_HZ // 50
    angle = 2.0 * np.pi * np.arange(3 * period) / period
    codes = (30_000 * np.sin(angle[:, None] - np.arange(CHANNELS) / 4)).astype("<i2")
    words = (codes.view("<u2") ^ np.uint16(WORD_CODING)).tobytes()
    for block in range(round(seconds * _BLOCKS_PER_S)):
        if block % _DESCRIBE_BLOCKS == 0:
            yield from description()
        first = block * SETS
        at = 2 * CHANNELS * (first % period)
        yield Samples(0, CHANNELS, first, first * _TICKS, words[at : at + 2 * CHANNELS * SETS])
        if block % _STATUS_BLOCKS == _STATUS_BLOCKS - 1:
            yield Status((first + SETS) * _TICKS, True, 0)


def description() -> Iterator[Message]:
    yield Identity(1, 0, 1, TICK_HZ, CHANNELS, 0, "FULL-1", "full profile")
    for index in range(CHANNELS):
        role, unit = (Role.CURRENT, "A") if index else (Role.VOLTAGE, "V")
        place = ("supply", "line", *(f"extra {k}" for k in range(2, CHANNELS)))[index]
        yield ChannelDescription(
            index, role, "", place, unit, 0.01, 0.0, -32_000, 32_000, 0, Fraction(_TICKS), noise_codes_rms=1.0
        )


def write(path: Path, seconds: float) -> tuple[int, int]:
    """Write the file; how many frames and bytes it holds."""
    frames = length = 0
    with path.open("wb") as file:
        for number, message in enumerate(messages(seconds)):
            length += file.write(encode_frame(message, sequence=number, boot=1))
            frames = number + 1
    return frames, length


def main() -> None:
    path, seconds = Path(sys.argv[1]), float(sys.argv[2])
    data, rate = path.read_bytes(), path.stat().st_size / seconds
    master, slave = os.openpty()
    tty.setraw(slave)
    print(os.ttyname(slave), flush=True)
    os.read(master, 1)  # what the service says after that is not read: half a line is enough
    begin_s, sent = time.monotonic(), 0
    while sent < len(data):
        due = min(len(data), int((time.monotonic() - begin_s) * rate))
        sent += os.write(master, data[sent:due]) if due > sent else 0
        time.sleep(_PAUSE_S)
    print(f"{time.monotonic() - begin_s:.1f} s", flush=True)
    time.sleep(3600)  # a pty whose end is closed loses what is still in it


if __name__ == "__main__":
    main()
