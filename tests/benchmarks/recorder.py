"""Goal 5a: the recorder's CPU, against bare writes and syncs of the same bytes as often, on a real disk.

Both write what gathers in a tenth of a second at once and sync each second. The recorder numbers and checks each chunk
beside that, watches the room on the disk and keeps what no sync has confirmed.
"""

import json
import os
from collections.abc import Iterator
from itertools import groupby
from pathlib import Path
from tempfile import TemporaryDirectory

from server.runs.layout import Entry, Kind
from server.runs.library import Library
from server.runs.recorder import WRITE_EVERY_S
from server.runs.segments import open_segment
from server.runs.writer import SYNC_EVERY_S, Writer
from server.whole_file import free_and_total
from tests.benchmarks.packing import UTC_S, reads, reference_wire
from tests.benchmarks.pairs import Row, cpu_ratio

AT_MOST = 2.0
OPEN = Entry(Kind.OPEN, UTC_S, json.dumps({"serial": "reference", "reason": "benchmark"}).encode())
CLOSE = Entry(Kind.CLOSE, UTC_S, b"ended by a person")


def measure(pairs: int, seconds: float = 120.0) -> list[Row]:
    """The row of goal 5a: the reference board, recorded as fast as it goes by a clock of its own.

    The goal is about blocks: what opening a run costs once, 3 ms, is to weigh little.
    """
    steps = gathered(seconds)
    with TemporaryDirectory() as folder:
        runs, bare = Path(folder) / "runs", Path(folder) / "bare"
        ratio = cpu_ratio(lambda: record_all(runs, steps), lambda: write_all(bare, steps), pairs)
    return [Row("5a", "recorder, reference board, to write and fdatasync as often", ratio, AT_MOST)]


def gathered(seconds: float) -> list[list[Entry]]:
    """The chunks of the reference board, as the recorder takes them: those of each tenth of a second together."""
    chunks: Iterator[Entry] = reads(reference_wire(seconds), seconds)
    return [list(each) for _, each in groupby(chunks, lambda entry: int((entry.utc_s - UTC_S) / WRITE_EVERY_S))]


def record_all(runs: Path, steps: list[list[Entry]]) -> Path:
    """All of it as a run of its own; the folder of that."""
    library = Library(runs)
    told: list[Path] = []
    writer = Writer(library, "bench", open_segment, free_and_total, opened=lambda opening, run: told.append(run))
    writer.step([OPEN], 0.0)
    for number, entries in enumerate(steps):
        writer.step(entries, number * WRITE_EVERY_S)
    writer.step([CLOSE], len(steps) * WRITE_EVERY_S)
    writer.finish(len(steps) * WRITE_EVERY_S)
    library.close()
    return told[0]


def write_all(path: Path, steps: list[list[Entry]]) -> None:
    """The same bytes into one file, with nothing beside them."""
    path.unlink(missing_ok=True)
    due_s = SYNC_EVERY_S
    file = os.open(path, os.O_WRONLY | os.O_CREAT | os.O_APPEND, 0o600)
    for number, entries in enumerate(steps):
        os.write(file, b"".join(entry.payload for entry in entries))
        if number * WRITE_EVERY_S >= due_s:
            os.fdatasync(file)
            due_s += SYNC_EVERY_S
    os.fdatasync(file)
    os.close(file)
