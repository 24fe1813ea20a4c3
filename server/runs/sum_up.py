"""`python -m server.runs.sum_up RUN`: sums up a closed run and keeps what it found beside it, and its log where that
must be made again.

A program of its own, so that the service, which may be watching a motor, computes nothing twice: it is started with low
priority and ends itself when its standard input closes.
"""

import sqlite3
import sys
from pathlib import Path
from typing import Any

from server.runs.beside import read_digest, size_of, write_digest
from server.runs.digest import Digest
from server.runs.in_child import begin_quietly
from server.runs.log.remake import make_log
from server.runs.replay import Replay


def summed_up(run: Path) -> dict[str, Any]:
    """The run in short, by playing it as fast as it goes. Raises OSError if the folder cannot be read."""
    digest, replay = Digest(), Replay(run)
    for each in replay:
        if each.entry is None:
            digest.trouble(each.trouble)
        else:
            digest.take(each.entry, each.output, replay.pipeline)
    return {**digest.record(), "bytes": size_of(run)}


def main(arguments: list[str]) -> int:
    """Exit code: 0 done, 1 it could not be."""
    begin_quietly()
    (run,) = map(Path, arguments)
    failed = ""
    try:
        make_log(run)  # first: a run that has its digest is not asked for again
    except (OSError, sqlite3.Error) as error:
        failed = f"its log could not be made ({error})"
    try:
        digest = read_digest(run)
        if digest is None or digest["bytes"] != size_of(run):
            write_digest(run, summed_up(run))
    except OSError as error:
        failed = error.strerror or str(error)
    if failed:
        print(failed, file=sys.stderr)
    return 1 if failed else 0


if __name__ == "__main__":
    sys.exit(main(sys.argv[1:]))
