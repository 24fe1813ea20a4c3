"""A thousand seeds of damage on the wire of tiny boards, some on both software boards: `tests/seeded`, large."""

import json
import subprocess
import sys
import time
from collections import Counter
from functools import lru_cache
from pathlib import Path
from random import Random

from tests.seeded import damage as tiny
from tests.seeded.damage import RATES, Ran, accounted, check, damaged, promised, ran
from tests.server.tiny_board import HALLS, TinyBoard

SEEDS = {"tiny, pulses": 1000, "tiny, Halls": 1000, "cabin_ventilator": 60, "tender_thruster": 60}
# One pulse a turn takes so long to prove that a shaft stands. The thruster's stands for nine seconds, and its first
# edges after that are read together with the last ones before.
SETTLES_S = {"cabin_ventilator": 25.0, "tender_thruster": 10.0}
STORY_S = 80.0  # of a software board: two stories
CALMER = 1 / 8  # its frames are more often by so much than those of a tiny board
CHUNK = 20
COLUMNS = ("seeds", "faults", "good", "doubtful", "absent", "kept", "wrong")


def main(state: Path, seed: int) -> int:
    """Print a row for each board; 0 if nothing was wrong. Seeds that an interrupted run did are not done again.

    kept: readings without damage near them that are those of the undamaged run, to the last bit.
    """
    print(f"{'board':18}" + "".join(f"{column:>10}" for column in COLUMNS))
    wrong = 0
    for board, seeds in SEEDS.items():
        start, found = time.process_time(), _board(board, seeds, seed, state / f"{board.replace(', ', '-')}.json")
        wrong += found["wrong"]
        row = "".join(f"{found[column]:10}" for column in COLUMNS)
        print(f"{board:18}{row}  {time.process_time() - start:.0f} s of CPU", flush=True)
    return 1 if wrong else 0


def _board(board: str, seeds: int, seed: int, kept: Path) -> Counter[str]:
    found: Counter[str] = Counter(json.loads(kept.read_text())) if kept.exists() else Counter()
    whole, clean = undamaged(board)
    rates = RATES if board.startswith("tiny") else {kind: rate * CALMER for kind, rate in RATES.items()}
    for number in range(found["seeds"], seeds):
        found["seeds"] += 1
        wire, faults = damaged(whole, 1_000_000 * seed + number, rates)
        found["faults"] += len(faults.touched)
        hurt = ran(wire, Random(number))
        try:
            found += check(clean, hurt, whole, wire, SETTLES_S.get(board, tiny.SETTLES_S))
            assert accounted(hurt, wire) == promised(wire), (
                "the sum of stored and missing samples is not what was promised"
            )
        except AssertionError as error:
            found["wrong"] += 1
            print(f"{board}, seed {1_000_000 * seed + number}: {error}", flush=True)
        if found["seeds"] % CHUNK == 0:
            kept.write_text(json.dumps(found))
    return found


@lru_cache(maxsize=1)
def undamaged(board: str) -> tuple[bytes, Ran]:
    if board.startswith("tiny"):
        wire = (TinyBoard(inputs=HALLS) if "Halls" in board else TinyBoard()).wire()
    else:
        command = [sys.executable, "-m", "simulator", "bytes", board, "--seconds", str(STORY_S), "--out", "-"]
        wire = subprocess.run(command, capture_output=True, check=True).stdout
    return wire, ran(wire)
