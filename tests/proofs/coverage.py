"""Whether intervals hold the truth as often as they say: ten thousand random measurements, `tests/coverage` at large.

Where scatter rules an interval it must hold the truth in 95 +- 1.5 %, where limits do in at least 93 %; and none may be
wider than 1.5 times the empirical interval of 95 %, or wide ones would pass.
"""

import pickle
from pathlib import Path

from tests.coverage.counting import Tally, unjudged, verdicts

CASES, CHUNK = 10_000, 250


def main(state: Path, seed: int) -> int:
    """Print a row for each quantity; 0 if nothing was wrong. What an interrupted run did is not done again."""
    kept = state / "tally.pickle"
    done, tally = pickle.loads(kept.read_bytes()) if kept.exists() else (0, Tally())
    for number in range(done, CASES):
        tally.add(seed, number)
        if (number + 1) % CHUNK == 0:
            kept.write_bytes(pickle.dumps((number + 1, tally)))
    print(f"{'quantity':34}{'ruled by':>10}{'intervals':>11}{'hold it, %':>12}{'width':>8}")
    wrong = 0
    for verdict in verdicts(tally):
        print(verdict.row)
        wrong += verdict.wrong
    for (key, reason), count in sorted(tally.without.items()):
        print(f"{key:34}{count:21} without: {reason}")
    missing = unjudged(tally, CASES // 10)
    print(f"{wrong} outside of what is promised; too few intervals to say: {', '.join(missing) or 'none'}")
    return 1 if wrong or missing else 0
