"""`python -m server.comparison.make`: plays a stretch of a run about one moment, as a child of low priority.

It reads from a little before the moment to a few seconds behind it, whatever the length of the run.
"""

import sys
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

from server.comparison.start import Stretch, Wanted
from server.export.child import main
from server.runs.beside import read_digest
from server.runs.course import Course
from server.runs.jump import entries_at
from server.runs.layout import Entry
from server.runs.library import summary_of
from server.runs.replay import outputs, recorded

NEAR_S = 30.0  # of the beginning: it is played from there


def stretch_of(run: Path, wanted: Wanted) -> dict[str, Any]:
    """What `Stretch.record` tells of it. Raises OSError."""
    summary = summary_of(run)
    course, stretch = Course(summary.rig), Stretch(wanted)
    for part in outputs(_entries(run, wanted, summary.opened_utc_s), course, wanted.to_utc_s):
        stretch.take(part)
    return stretch.record()


def _entries(run: Path, wanted: Wanted, opened_utc_s: float) -> Iterator[Entry | str]:
    since_utc_s, digest = wanted.at_utc_s - wanted.before_s, read_digest(run)
    if digest is None or since_utc_s - opened_utc_s < NEAR_S:
        return recorded(run)
    return entries_at(run, digest, since_utc_s) or recorded(run)


def _answer(said: dict[str, Any], share: Callable[[float], None]) -> dict[str, Any]:
    del share  # it is done in a moment
    return stretch_of(Path(said["run"]), Wanted(said["kind"], said["at_utc_s"], said["before_s"], said["after_s"]))


if __name__ == "__main__":
    sys.exit(main(_answer))
