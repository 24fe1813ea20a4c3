"""Real recorders, killed at random moments, many at once: `python -m tests.server.runs.killed FOLDER COUNT SEED`.

It prints a JSON line for each: when its entries were put, when it was killed, by one clock. The processes are forked
from one that has everything loaded, so that twenty take no longer than one.
"""

import json
import mmap
import os
import signal
import subprocess
import sys
import time
from dataclasses import dataclass
from pathlib import Path
from random import Random
from struct import Struct

from server.runs.layout import Entry
from server.runs.library import Library
from server.runs.recorder import Recorder
from server.runs.replay import recorded
from server.runs.segments import open_segment
from server.runs.writer import Writer
from tests.server.runs.test_writer import CLOSE, OPEN, PLENTY, chunk

ROOT = Path(__file__).resolve().parent.parent.parent.parent
PUT_EVERY_S = 0.01
PUTS_MAX = 2000
LONGEST_S = 2.5
_TIME = Struct("<d")


@dataclass(frozen=True, slots=True)
class Killed:
    """One recorder: its folder, when each chunk was put, when it was killed; seconds of one clock."""

    folder: Path
    put_s: tuple[float, ...]
    killed_s: float


def killed(folder: Path, count: int, seed: int) -> list[Killed]:
    """So many recorders, killed."""
    command = [sys.executable, "-m", "tests.server.runs.killed", str(folder), str(count), str(seed)]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, check=True, timeout=120)
    lines = map(json.loads, done.stdout.splitlines())
    return [Killed(folder / line["name"], tuple(line["put_s"]), line["killed_s"]) for line in lines]


def lost_s(one: Killed) -> float:
    """How much of the run a kill cost, after it was found whole up to there and gone on with. AssertionError if not."""
    library = Library(one.folder)
    try:
        left = library.left_open("bench")
        if left is None:
            return one.killed_s - (one.put_s[0] if one.put_s else one.killed_s)
        kept = [each for each in recorded(one.folder / left.name) if isinstance(each, Entry)]
        put = [OPEN, *(chunk(number % 100) for number in range(PUTS_MAX))]
        assert kept == put[: len(kept)], f"{one.folder}: something else than what was put"
        writer = Writer(library, "bench", open_segment, lambda _: PLENTY, left.name)
        writer.step([CLOSE], 0.0)
        assert writer.writing.state == "closed"
        assert list(recorded(one.folder / left.name))[-1] == CLOSE
        first_lost = len(kept) - 1
        return one.killed_s - one.put_s[first_lost] if first_lost < len(one.put_s) else 0.0
    finally:
        library.close()


def _record(folder: Path, shared: mmap.mmap) -> None:
    recorder = Recorder(Library(folder), "bench")
    recorder.start()
    recorder.put(OPEN)
    for number in range(PUTS_MAX):
        _TIME.pack_into(shared, _TIME.size * number, time.monotonic())
        recorder.put(chunk(number % 100))
        time.sleep(PUT_EVERY_S)


def _main(folder: Path, count: int, seed: int) -> None:
    draw, children = Random(seed), list[tuple[int, mmap.mmap, float]]()
    for number in range(count):
        shared = mmap.mmap(-1, _TIME.size * PUTS_MAX)
        child = os.fork()
        if child == 0:
            _record(folder / f"{number:03d}", shared)
            os._exit(0)
        children.append((child, shared, time.monotonic() + draw.uniform(0.05, LONGEST_S)))
    for number, (child, shared, due_s) in sorted(enumerate(children), key=lambda each: each[1][2]):
        time.sleep(max(0.0, due_s - time.monotonic()))
        os.kill(child, signal.SIGKILL)
        killed_s = time.monotonic()
        os.waitpid(child, 0)
        times = [each for (each,) in _TIME.iter_unpack(shared[:]) if each]
        print(json.dumps({"name": f"{number:03d}", "put_s": times, "killed_s": killed_s}))


if __name__ == "__main__":
    _main(Path(sys.argv[1]), int(sys.argv[2]), int(sys.argv[3]))
