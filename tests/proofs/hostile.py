"""Many boards that lie, through pipeline, page and lines: the large twin of tests/seeded/test_hostile.py."""

import resource
import time
from pathlib import Path

from tests.seeded.test_hostile import watch

BOARDS = 20_000


def main(state: Path, seed: int) -> int:
    """Every board stops nothing and makes no number that is none; goes on after the last board that is in `state`."""
    kept = state / "done.txt"
    done = int(kept.read_text()) if kept.exists() else 0
    start = time.process_time()
    for number in range(done, BOARDS):
        watch(seed * 1_000_000 + number)
        if number % 500 == 499:
            kept.write_text(str(number + 1))
    kilobytes = resource.getrusage(resource.RUSAGE_SELF).ru_maxrss
    cpu_s = time.process_time() - start
    print(f"{BOARDS} boards ({BOARDS - done} now), none stopped anything; {cpu_s:.0f} s CPU, at most {kilobytes} kB")
    return 0
