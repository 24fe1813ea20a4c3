"""The twins and worlds once more, with a core that watches itself: python -m ...firmware.sanitized LIBRARY.

A process of its own, because the sanitizers must be loaded before Python; they end it at the first fault.
"""

import sys
from pathlib import Path
from random import Random

from tests.firmware_protocol.firmware.c_core import Core
from tests.firmware_protocol.firmware.twins import (
    OF_A_BOARD,
    OF_A_PC,
    REQUEST_BYTES_MAX,
    checksums_agree,
    hears_the_same,
    writes_golden,
)
from tests.firmware_protocol.firmware.worlds import run
from tests.firmware_protocol.mutations import mutated

REQUESTS, WORLDS, CHECKSUMS = 1500, 8, 200


def main(library: Path) -> None:
    core, draw = Core(library), Random("sanitized")
    for golden in OF_A_BOARD:
        writes_golden(core, golden)
    checksums_agree(core, draw, CHECKSUMS)
    originals = [bytes.fromhex(golden["wire"])[:-1] for golden in OF_A_PC]
    heard = 0
    while heard < REQUESTS:
        for coded in mutated(draw, originals).split(b"\0"):
            if 0 < len(coded) <= REQUEST_BYTES_MAX:
                hears_the_same(core, coded)
                heard += 1
    for seed in range(WORLDS):
        run(core, seed)
    print(f"{len(OF_A_BOARD)} golden frames, {heard} requests, {WORLDS} worlds")


if __name__ == "__main__":
    main(Path(sys.argv[1]))
