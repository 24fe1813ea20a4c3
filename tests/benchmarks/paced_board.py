"""A board of the reference size in a process of its own: `python -m tests.benchmarks.paced_board SECONDS`.

8 channels of 20 kS/s in blocks of 32 samples on a pty, each written when its last sample is due. Prints the pty's name,
starts with the first byte that comes to it, and prints at the end when each block was written (monotonic seconds).
"""

import json
import os
import select
import sys
import time
import tty
from fractions import Fraction

import numpy as np

from firmware_protocol import (
    WORD_CODING,
    ChannelDescription,
    Identity,
    Message,
    Role,
    Samples,
    Source,
    Status,
    encode_frame,
)

RATE_HZ, TICK_HZ, BLOCK, CHANNELS = 20_000, 1_000_000, 32, 8
BLOCK_S = BLOCK / RATE_HZ
STATUS_EVERY = 125  # blocks: 0.2 s
TICKS = TICK_HZ // RATE_HZ


def description() -> list[Message]:
    """Supply and line first, six more currents behind."""
    places = [(Role.VOLTAGE, "supply"), (Role.CURRENT, "line"), *((Role.CURRENT, f"extra {k}") for k in range(6))]
    said: list[Message] = [Identity(1, 0, 1, TICK_HZ, CHANNELS, 0, "PACED", source=Source.DEMO)]
    for index, (role, place) in enumerate(places):
        unit = "V" if role is Role.VOLTAGE else "A"
        said.append(ChannelDescription(index, role, "", place, unit, 0.01, 0.0, -32767, 32767, 0, Fraction(TICKS)))
    return said


def words(first_sample: int) -> bytes:
    """One block of 50 Hz waves."""
    angle = 2 * np.pi * 50 / RATE_HZ * (first_sample + np.arange(BLOCK))
    codes = 30_000 * np.sin(angle[:, None] - np.arange(CHANNELS) / 4)
    return (codes.astype("<i2").view("<u2") ^ WORD_CODING).astype("<u2").tobytes()


def main() -> None:
    blocks = round(float(sys.argv[1]) / BLOCK_S)
    cycle = [words(k * BLOCK) for k in range(25)]  # 25 blocks are two cycles
    master, slave = os.openpty()
    tty.setraw(slave)
    print(os.ttyname(slave), flush=True)
    os.read(master, 1)
    sequence, written = 0, []

    def send(message: Message) -> None:
        nonlocal sequence
        data = encode_frame(message, sequence=sequence, boot=1)
        sequence += 1
        while data:  # a pty holds 4 kB: a reader that is late lets the board wait, and the times say so
            data = data[os.write(master, data) :]
        if select.select([master], [], [], 0)[0]:
            os.read(master, 10_000)  # what the service says is not needed

    for message in description():
        send(message)
    begin_s = time.monotonic()
    for k in range(blocks):
        due_s = begin_s + (k + 1) * BLOCK_S
        time.sleep(max(due_s - time.monotonic(), 0))
        send(Samples(0, CHANNELS, k * BLOCK, k * BLOCK * TICKS, cycle[k % 25]))
        written.append(time.monotonic())
        if k % STATUS_EVERY == STATUS_EVERY - 1:
            send(Status((k + 1) * BLOCK * TICKS, True, 0))
    print(json.dumps(written), flush=True)


if __name__ == "__main__":
    main()
