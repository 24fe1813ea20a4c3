"""What nobody foresaw while recording is told as a failure, and recording goes on when it is over."""

import logging
from pathlib import Path

import pytest

from server.runs.layout import Entry
from server.runs.library import Library
from server.runs.recorder import Recorder
from server.runs.replay import recorded
from server.runs.segments import SegmentFile, open_segment
from server.runs.writer import Writer
from tests.server.runs.failing import Disk
from tests.server.runs.test_recorder import wait_for
from tests.server.runs.test_writer import CLOSE, OPEN, PLENTY, STORY, chunk


def test_a_run_goes_on_without_its_catalogue(tmp_path: Path) -> None:
    library = Library(tmp_path)
    first = Writer(library, "bench", Disk().open, lambda _: PLENTY)
    first.step(STORY[:8], 100.0)
    first.finish(101.0)
    left = library.left_open("bench")
    assert left is not None
    library.close()  # from now on the catalogue raises what sqlite3 raises
    recorder = Recorder(library, "bench", left.name)
    recorder.start()
    recorder.put(chunk(50))
    wait_for(lambda: recorder.writing.state == "recording")
    assert recorder.writing.since_utc_s == OPEN.utc_s
    recorder.put(CLOSE)
    recorder.stop()
    assert list(recorded(tmp_path / left.name)) == [*STORY[:8], chunk(50), CLOSE]


class _Odd:
    """A disk that raises what no disk should, `times` times at each kind of operation."""

    def __init__(self, times: int) -> None:
        self.left = dict.fromkeys(("open", "write", "sync"), times)

    def open(self, path: Path) -> SegmentFile:
        self.step("open")
        return _OddFile(self, open_segment(path))

    def step(self, kind: str) -> None:
        if self.left[kind]:
            self.left[kind] -= 1
            raise RuntimeError(f"no {kind} today")


class _OddFile:
    def __init__(self, disk: _Odd, file: SegmentFile) -> None:
        self._disk, self._file, self.close = disk, file, file.close

    def write(self, data: bytes) -> None:
        self._disk.step("write")
        self._file.write(data)

    def sync(self) -> None:
        self._disk.step("sync")
        self._file.sync()


def test_any_exception_is_a_failure_that_is_told_logged_once_and_tried_again(
    tmp_path: Path, caplog: pytest.LogCaptureFixture
) -> None:
    library = Library(tmp_path)
    writer, reasons = Writer(library, "bench", _Odd(2).open, lambda _: PLENTY), []
    with caplog.at_level(logging.ERROR, "server.runs.writer"):
        for k, entry in enumerate(STORY):
            writer.step([entry], 100.0 + k)
            reasons.append(writer.writing.reason)
        for k in range(60):
            writer.step([], 120.0 + k)
            reasons.append(writer.writing.reason)
    kinds = ("open", "write", "sync")
    said = [reason for k, reason in enumerate(reasons) if reason and reason != reasons[k - 1]]
    assert said == [
        *(f"the recorder failed (RuntimeError: no {kind} today); the log says where" for kind in kinds),
        "ended by a person",
    ]
    assert [each.message for each in caplog.records] == ["Recording of bench failed"] * 3
    assert all(each.exc_info for each in caplog.records)
    assert [each for each in recorded(tmp_path / library.runs()[0].name) if isinstance(each, Entry)] == STORY
