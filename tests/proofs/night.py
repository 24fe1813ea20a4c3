"""A whole night through all of the service: board, cable, clock and the service itself fail, and all is accounted for.

Twelve hours of a software board that runs as fast as the service takes it, in `tests/night`. A row for each thing that
was made, what was found of it, and what is wrong. Tens of minutes; interrupted, it goes on from where it was.
"""

import sys
from pathlib import Path

from tests.night.found import Row, found
from tests.night.making import make

HOURS = 12.0
SHOWN_MAX = 8


def main(state: Path, seed: int, hours: float = HOURS) -> int:
    """0 when nothing is wrong."""
    make(state, seed, hours, lambda said: print(said, file=sys.stderr, flush=True))
    rows = found(state, hours)
    print(table(rows))
    wrong = [f"{row.what}: {each}" for row in rows for each in row.wrong[:SHOWN_MAX]]
    print("\n".join(wrong) or "nothing is wrong")
    return 1 if wrong else 0


def table(rows: list[Row]) -> str:
    """A line for each row."""
    lines = [f"{'what':46} {'made':50} {'found':56} wrong"]
    lines += [f"{row.what:46} {row.made:50} {row.found:56} {len(row.wrong)}" for row in rows]
    return "\n".join(lines)
