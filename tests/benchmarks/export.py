"""CPU seconds of this process a second of a run: replayed, and exported in each format.

The reference is time itself: replay and binary exports are to be 50 times as fast as the run was recorded, CSV 5 times.
"""

from pathlib import Path
from tempfile import TemporaryDirectory
from time import process_time

from server.config import RigSettings
from server.export import EXPORTS, Wanted
from server.export.make import make
from server.runs.library import Library
from server.runs.recording import Recording
from server.runs.replay import Replay
from simulator.bench import bench, bench_board
from tests.benchmarks.pairs import Row

GOAL = "export"
SHARE_AT_MOST = {"csv": 1 / 5}
BINARY_AT_MOST = 1 / 50
MOTOR = "cabin_ventilator"
CHUNK_S = 0.05
RUN_S = 3.0  # of a run that is exported in tests; the goal itself takes a longer one
OPENED_UTC_S = 1_795_615_320.0


def recorded(folder: Path, seconds: float) -> Path:
    """A run of the demo's ventilator, its first story from the beginning on."""
    board = bench_board(next(each for each in bench() if each.key == MOTOR))
    library = Library(folder)
    recording = Recording(RigSettings("heron-1"), library)
    recording.connected(OPENED_UTC_S)
    for k in range(round(seconds / CHUNK_S)):
        recording.chunk(board.step(CHUNK_S), OPENED_UTC_S + (k + 1) * CHUNK_S)
    recording.end_run(OPENED_UTC_S + seconds)
    recording.stop(OPENED_UTC_S + seconds)
    (run,) = (folder / each.name for each in library.runs())
    library.close()
    return run


def measure(pairs: int) -> list[Row]:
    """A row for the replay and one for each format and content; with `pairs` the run is longer."""
    seconds = RUN_S * pairs
    with TemporaryDirectory() as name:
        run = recorded(Path(name), seconds)
        rows = [Row(GOAL, "replay: share of the time that the run took", _replayed(run) / seconds, BINARY_AT_MOST)]
        for export in EXPORTS:
            for what in export.whats:
                first = Wanted(what, to_utc_s=OPENED_UTC_S + 1.0)
                make(
                    run, export.key, first, Path(name) / f"first {what}{export.suffix}"
                )  # what is loaded once is not what is measured
                start = process_time()
                make(run, export.key, Wanted(what), Path(name) / f"{what}{export.suffix}")
                share = (process_time() - start) / seconds
                at_most = SHARE_AT_MOST.get(export.key, BINARY_AT_MOST)
                rows.append(Row(GOAL, f"{export.key}, {what}: share of the time", share, at_most))
    return rows


def _replayed(run: Path) -> float:
    start = process_time()
    for each in Replay(run):
        assert not each.trouble
    return process_time() - start
