"""The thread between the event loop and the disk."""

import re
import subprocess
import sys
import threading
import time
from pathlib import Path

import pytest

from server.runs.layout import Entry, Kind
from server.runs.library import Library
from server.runs.recorder import Recorder
from server.runs.replay import recorded
from server.runs.segments import SegmentFile, open_segment
from tests.server.runs.test_writer import CLOSE, OPEN, STORY, chunk

ROOT = Path(__file__).resolve().parents[3]


def wait_for(condition: object, seconds: float = 5.0) -> None:
    end = time.monotonic() + seconds
    while not condition():  # type: ignore[operator]  # a function of the test
        assert time.monotonic() < end
        time.sleep(0.01)


def test_what_is_put_is_on_the_disk_when_it_has_stopped(tmp_path: Path) -> None:
    library = Library(tmp_path)
    recorder = Recorder(library, "bench")
    recorder.start()
    for entry in STORY:
        recorder.put(entry)
    recorder.stop()
    assert list(recorded(tmp_path / library.runs()[0].name)) == STORY
    assert recorder.writing.state == "closed"
    library.close()


def test_it_is_on_the_disk_within_a_second_without_stopping(tmp_path: Path) -> None:
    library = Library(tmp_path)
    recorder = Recorder(library, "bench")
    recorder.start()
    recorder.put(OPEN)
    recorder.put(chunk(0))
    wait_for(lambda: recorder.writing.run and list(recorded(tmp_path / recorder.writing.run)) == [OPEN, chunk(0)], 1.0)
    recorder.stop()
    library.close()


class _Stuck:
    """A disk that takes nothing until it is let go."""

    def __init__(self) -> None:
        self.go = threading.Event()

    def open(self, path: Path) -> SegmentFile:
        assert self.go.wait(10)
        return open_segment(path)


def test_while_the_disk_hangs_memory_is_bounded_put_returns_at_once_and_the_run_says_what_was_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("server.runs.recorder.WAITING_BYTES_MAX", 1000)
    library, disk = Library(tmp_path), _Stuck()
    recorder = Recorder(library, "bench", open_segment=disk.open)
    recorder.start()
    recorder.put(OPEN)
    start = time.monotonic()
    chunks = [Entry(Kind.CHUNK, 1.0 + k, bytes(100)) for k in range(30)]
    for each in chunks:
        recorder.put(each)
    assert time.monotonic() - start < 0.5
    told = recorder.writing
    assert (told.state, told.reason.partition(";")[0]) == ("failed", "the disk does not answer")
    assert told.lost_utc_s in {each.utc_s for each in chunks[5:11]}
    disk.go.set()
    wait_for(lambda: recorder.writing.state == "recording")
    assert recorder.writing.lost_utc_s is None
    time.sleep(0.3)
    recorder.put(chunks[-1])
    recorder.put(CLOSE)
    recorder.stop()
    kept = list(recorded(tmp_path / library.runs()[0].name))
    assert 5 <= sum(isinstance(each, Entry) and each.kind is Kind.CHUNK for each in kept) <= 11
    (mark,) = [each.text for each in kept if isinstance(each, Entry) and each.kind is Kind.MARK]
    assert mark.startswith("The disk took nothing: ")
    assert mark.endswith("chunks of bytes did not fit in memory and are lost")
    library.close()


def test_while_the_disk_takes_nothing_it_is_told_what_waits_for_how_long_about_and_what_is_lost_since_when(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("server.runs.recorder.WAITING_BYTES_MAX", 1000 + len(OPEN.payload))
    begun_utc_s = OPEN.utc_s

    def refused(path: Path) -> SegmentFile:
        raise OSError(None, "the disk is full")

    def put(count: int, since: int) -> None:
        for k in range(since, since + count):
            recorder.put(Entry(Kind.CHUNK, begun_utc_s + 10.0 * k, bytes(100)))

    library = Library(tmp_path)
    recorder = Recorder(library, "bench", open_segment=refused)
    recorder.start()
    recorder.put(OPEN)
    wait_for(lambda: recorder.writing.state == "failed")
    assert recorder.writing.reason == "the disk is full; samples wait in memory"
    put(5, 1)
    waits = r"the disk is full; samples wait in memory, about (\d+) s of them at most"
    told = re.fullmatch(waits, recorder.writing.reason)
    assert told is not None
    held = 50.0 / (500.0 + len(OPEN.payload)) * (1000.0 + len(OPEN.payload))  # in proportion
    assert float(told[1]) == pytest.approx(held, abs=0.5)
    assert recorder.writing.lost_utc_s is None
    put(6, 6)
    assert recorder.writing.lost_utc_s == begun_utc_s + 110.0
    recorder.put(Entry(Kind.MARK, begun_utc_s + 120.0, b"cable out"))  # what is no sample is taken, and changes nothing
    put(1, 13)
    assert recorder.writing.lost_utc_s == begun_utc_s + 110.0
    assert re.fullmatch(
        r"the disk is full; memory is full: samples since \d\d:\d\d:\d\d are lost", recorder.writing.reason
    )
    recorder.stop()
    library.close()


CHILD = """
import sys, time
from pathlib import Path
from server.runs.library import Library
from server.runs.recorder import Recorder
from tests.server.runs.test_writer import OPEN, chunk
recorder = Recorder(Library(Path(sys.argv[1])), "bench")
recorder.start()
recorder.put(OPEN)
for number in range(100_000):
    recorder.put(chunk(number % 100))
    print(number, flush=True)
    time.sleep(0.005)
"""


def test_a_kill_at_any_moment_costs_at_most_the_last_second_and_the_next_start_goes_on(tmp_path: Path) -> None:
    with subprocess.Popen([sys.executable, "-c", CHILD, str(tmp_path)], stdout=subprocess.PIPE, cwd=ROOT) as child:
        assert child.stdout is not None
        put = [int(child.stdout.readline()) for _ in range(150)][-1]
        child.kill()
    library = Library(tmp_path)
    left = library.left_open("bench")
    assert left is not None
    kept = [each for each in recorded(tmp_path / left.name) if isinstance(each, Entry)]
    assert put + 2 - len(kept) <= 1.0 / 0.005
    recorder = Recorder(library, "bench", left.name)
    recorder.start()
    recorder.put(CLOSE)
    recorder.stop()
    assert [each for each in recorded(tmp_path / left.name) if isinstance(each, Entry)] == [*kept, CLOSE]
    library.close()
