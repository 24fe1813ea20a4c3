"""A disk that is nearly full for real ends the raw recording alone: readings, log, events and alarms go on."""

import os
import re
import subprocess
import time
from collections.abc import Iterator
from pathlib import Path
from shutil import disk_usage

import pytest

from server.config import RigSettings
from server.runs.library import Library
from server.runs.log.dated import Dated, read_dated
from server.runs.log.reading import LogReader
from server.runs.log.store import LOG
from server.runs.recording import Recording
from server.runs.writer import RETRY_S_MAX
from tests.server.runs.recordings import OPENED_UTC_S
from tests.server.tiny_board import TinyBoard

WIRE = TinyBoard().wire(((20.0, 230.0, 0.5, 1400.0),))
PARTS = [WIRE[k * len(WIRE) // 200 : (k + 1) * len(WIRE) // 200] for k in range(200)]  # 0.1 s each


@pytest.fixture
def small_disk(tmp_path: Path) -> Iterator[Path]:
    """40 MB of a disk of its own: 2 MB of it are left untouched by samples, 0.4 MB by the log."""
    folder = tmp_path / "disk"
    folder.mkdir()
    mount = ["mount", "-t", "tmpfs", "-o", "size=40m", "tmpfs", str(folder)]
    if os.geteuid() or subprocess.run(mount, check=False, capture_output=True).returncode:
        pytest.skip("only root may mount a small disk")
    yield folder
    subprocess.run(["umount", str(folder)], check=True)


def until(told: object, at_most_s: float = 10.0) -> float:
    """Wait for it; how long that took."""
    assert callable(told)
    begun_s = time.monotonic()
    while not told():
        assert time.monotonic() - begun_s < at_most_s
        time.sleep(0.02)
    return time.monotonic() - begun_s


@pytest.fixture
def recording(small_disk: Path) -> Iterator[Recording]:
    """On the small disk; it has ended before the disk goes, whatever the test finds."""
    library = Library(small_disk / "runs")
    made = Recording(RigSettings("bench"), library)
    yield made
    made.stop(OPENED_UTC_S + 20.0)
    library.close()


@pytest.mark.alone
def test_below_5_percent_of_room_readings_log_and_alarms_go_on_and_samples_within_5_s_of_space(
    small_disk: Path, recording: Recording, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr("server.runs.writer.DISK_CHECK_EVERY_S", 0.1)
    runs, parts = small_disk / "runs", iter(enumerate(PARTS))
    recording.connected(OPENED_UTC_S)

    def push(count: int) -> int:
        """So many parts; how many instants came of them."""
        return sum(
            len(each.instants)
            for _, (k, part) in zip(range(count), parts, strict=False)
            for each in recording.chunk(part, OPENED_UTC_S + 0.1 * (k + 1))
        )

    push(50)
    until(lambda: recording.writing.state == "recording" and not recording.logging.reason)
    run = runs / recording.run
    until((run / LOG).is_file)  # another thread makes it, in its own time
    (small_disk / "other").write_bytes(bytes(disk_usage(small_disk).free - 1_200_000))
    push(1)
    until(lambda: recording.writing.state == "failed")
    assert recording.writing.free_bytes is not None
    assert 0.5e6 < recording.writing.free_bytes < 2e6
    figures = r"only (0|1)\.\d MB are free on the disk, and 2\.1 MB are left untouched; samples wait"
    assert re.match(figures, recording.writing.reason)
    assert recording.writing.reason.endswith("; readings are kept")
    assert recording.writing.lost_utc_s is None
    raw_bytes = (run / "0001.run").stat().st_size
    assert push(100) > 40
    assert recording.keep(Dated("alarm", OPENED_UTC_S + 12.0, 12.0, {"name": "too much current"}))

    def logged_s() -> float:
        with LogReader(run) as log:
            return 0.0 if log.span is None else log.span[1] - OPENED_UTC_S

    until(lambda: logged_s() > 14.0 and read_dated(run))
    assert not recording.logging.reason
    assert (run / "0001.run").stat().st_size == raw_bytes
    (small_disk / "other").unlink()
    took_s = until(lambda: recording.writing.state == "recording")
    assert took_s < RETRY_S_MAX + 0.5
    assert recording.writing.free_bytes is None
    whole_bytes = raw_bytes + sum(map(len, PARTS[51:150]))
    until(lambda: sum(path.stat().st_size for path in run.glob("*.run")) > whole_bytes)
