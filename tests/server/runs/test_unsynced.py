"""A disk that takes every byte and confirms none: what is held and what is written stay bounded, and it is told."""

from collections import Counter
from pathlib import Path

import pytest

from server.runs.layout import Entry, Kind
from server.runs.library import Library
from server.runs.recorder import Recorder
from server.runs.replay import recorded
from server.runs.segments import SegmentFile, open_segment
from server.runs.writer import UNSYNCED_BYTES_MAX, Writer
from tests.server.runs.test_recorder import wait_for
from tests.server.runs.test_writer import CLOSE, OPEN, PLENTY

STEP_S = 0.1
CHUNK_BYTES = 25_000  # ten of them a second: the rate of the reference board


class Unconfirmed:
    """A disk whose syncs fail until `well` is set; counts what was asked of it."""

    def __init__(self) -> None:
        self.well = False
        self.asked: Counter[str] = Counter()

    def open(self, path: Path) -> SegmentFile:
        self.asked["open"] += 1
        return _File(self, open_segment(path))


class _File:
    def __init__(self, disk: Unconfirmed, file: SegmentFile) -> None:
        self._disk, self._file, self.close = disk, file, file.close

    def write(self, data: bytes) -> None:
        self._disk.asked["bytes"] += len(data)
        self._file.write(data)

    def sync(self) -> None:
        if not self._disk.well:
            raise OSError(5, "Input/output error")
        self._file.sync()


def chunks(count: int) -> list[Entry]:
    payloads = [k.to_bytes(4, "little") * (CHUNK_BYTES // 4) for k in range(count)]
    return [Entry(Kind.CHUNK, OPEN.utc_s + STEP_S * k, payload) for k, payload in enumerate(payloads)]


def test_while_no_sync_succeeds_all_is_counted_as_held_and_little_is_written_and_then_nothing_is_missing(
    tmp_path: Path,
) -> None:
    library, disk = Library(tmp_path), Unconfirmed()
    writer, story = Writer(library, "bench", disk.open, lambda _: PLENTY), [OPEN, *chunks(600)]
    states = set()
    for k, entry in enumerate(story):
        writer.step([entry], 100.0 + STEP_S * k)
        states.add(writer.writing.state)
    assert states == {"failed"}, "a write that no sync has confirmed is no success"
    assert writer.waiting_bytes >= 600 * CHUNK_BYTES
    assert disk.asked["open"] <= 60 / 5 + 4
    assert disk.asked["bytes"] <= 600 * CHUNK_BYTES / 10
    disk.well = True
    writer.step([CLOSE], 200.0)
    assert (writer.writing.state, writer.waiting_bytes) == ("closed", 0)
    assert list(recorded(tmp_path / library.runs()[0].name)) == [*story, CLOSE]


def test_however_much_waits_little_is_written_before_a_sync_has_succeeded(tmp_path: Path) -> None:
    library, disk = Library(tmp_path), Unconfirmed()
    writer, story = Writer(library, "bench", disk.open, lambda _: PLENTY), [OPEN, *chunks(600)]
    writer.step(story, 100.0)  # as after minutes in which the disk took nothing
    writer.step([], 101.0)
    writer.step([], 103.0)
    assert disk.asked["open"] == 3
    assert disk.asked["bytes"] <= 3 * (UNSYNCED_BYTES_MAX + 100_000)
    disk.well = True
    writer.step([], 110.0)
    assert (writer.writing.state, writer.waiting_bytes) == ("recording", 0)
    assert list(recorded(tmp_path / library.runs()[0].name)) == story


def test_the_recorders_limit_of_memory_holds_and_the_run_says_what_was_lost(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("server.runs.recorder.WAITING_BYTES_MAX", 10 * CHUNK_BYTES)
    library, disk = Library(tmp_path), Unconfirmed()
    recorder, arrived = Recorder(library, "bench", open_segment=disk.open), chunks(30)
    recorder.start()
    recorder.put(OPEN)
    for k in range(3):
        recorder.put(arrived[k])
        wait_for(lambda: recorder.writing.state == "failed")
    for entry in arrived[3:]:
        recorder.put(entry)
    disk.well = True
    wait_for(lambda: recorder.writing.state == "recording")
    recorder.stop()
    kept = [each for each in recorded(tmp_path / library.runs()[0].name) if isinstance(each, Entry)]
    assert kept == [OPEN, *arrived[: len(kept) - 1]]
    assert 8 <= len(kept) - 1 <= 10
    library.close()
