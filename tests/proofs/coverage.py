"""Whether intervals hold the truth as often as they say: ten thousand random measurements of each kind.

Where scatter rules an interval it must hold the truth in 95 +- 1.5 %, where limits do in at least 93 %; and none may be
wider than 1.5 times the empirical interval of 95 %, or wide ones would pass. Kinds of measurements: `tests/coverage`.
"""

import pickle
from pathlib import Path

from tests.coverage.counting import Tally, unjudged, verdicts
from tests.coverage.families import FAMILIES
from tests.coverage.told import Family

CASES, CHUNK = 10_000, 500
LEAST = {"mains": CASES // 10}  # intervals of each quantity; of other kinds, which are cut finer, LEAST_ELSEWHERE
LEAST_ELSEWHERE = CASES // 50


def main(state: Path, seed: int) -> int:
    """Print a row for each quantity of each kind; 0 if nothing was wrong. What an interrupted run did is kept."""
    wrong, missing = 0, list[str]()
    for name, family in FAMILIES.items():
        tally = _tally(state / f"{name.replace(' ', '_')}.pickle", family, seed)
        print(f"\n{name:62}{'ruled by':>10}{'intervals':>11}{'hold it, %':>12}{'width':>8}")
        for verdict in verdicts(tally):
            print(verdict.row, flush=True)
            wrong += verdict.wrong
        for (key, reason), count in sorted(tally.without.items()):
            print(f"{key:62}{count:21} without: {reason}")
        missing += unjudged(tally, LEAST.get(name, LEAST_ELSEWHERE))
    print(f"{wrong} outside of what is promised; too few intervals to say: {', '.join(missing) or 'none'}")
    return 1 if wrong or missing else 0


def _tally(kept: Path, family: Family, seed: int) -> Tally:
    done, tally = pickle.loads(kept.read_bytes()) if kept.exists() else (0, Tally())
    for number in range(done, CASES):
        tally.add(family, seed, number)
        if (number + 1) % CHUNK == 0:
            kept.write_bytes(pickle.dumps((number + 1, tally)))
    return tally
