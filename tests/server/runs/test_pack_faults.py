"""Whenever packing ends, by an error or a kill, the run is whole and the next packing finishes it."""

import os
import subprocess
import sys
from collections.abc import Callable
from pathlib import Path

import pytest

from server.runs.disk import Disk
from server.runs.pack import pack_segment, to_pack
from server.runs.segments import SegmentFile
from tests.server.runs.recordings import segment_bytes
from tests.server.runs.test_pack import said


@pytest.fixture(scope="module")
def written() -> bytes:
    """A plain segment without its end."""
    return segment_bytes(8.0)[:60_000]


class StoppedDisk(Disk):
    """Packing ends at its Nth operation, when it is asked for."""

    def __init__(self, at: int, error: BaseException) -> None:
        self.count, self._at, self._error = 0, at, error
        self.rename = self._counted(os.rename)
        self.sync_folder = self._counted(lambda folder: None)
        self.remove = self._counted(os.unlink)

    def open_segment(self, path: Path) -> SegmentFile:
        self.step()
        return StoppedFile(self, path)

    def step(self) -> None:
        self.count += 1
        if self.count == self._at:
            self.stop()

    def stop(self) -> None:
        raise self._error

    def _counted(self, does: Callable[..., None]) -> Callable[..., None]:
        def do(*given: Path) -> None:
            self.step()
            does(*given)

        return do


class StoppedFile:
    """Half of what the failing write was given is written."""

    def __init__(self, disk: StoppedDisk, path: Path) -> None:
        self._disk, self._file = disk, open(path, "xb", buffering=0)  # noqa: SIM115  # closed below

    def write(self, data: bytes) -> None:
        self._file.write(data[: len(data) // 2])
        self._disk.step()
        self._file.write(data[len(data) // 2 :])

    def sync(self) -> None:
        self._disk.step()

    def close(self) -> None:
        self._file.close()
        self._disk.step()


def test_whichever_operation_fails_the_run_is_as_it_was_and_packing_can_be_done_again(
    tmp_path: Path, written: bytes
) -> None:
    error, plain = OSError(28, "No space left on device"), tmp_path / "20261125-1402-bench" / "0001.run"
    plain.parent.mkdir()
    plain.write_bytes(written)
    before, disk = said(plain.parent), StoppedDisk(0, error)
    pack_segment(plain, disk)
    operations = disk.count
    assert operations >= 8
    for number in range(1, operations + 1):
        for path in plain.parent.iterdir():
            path.unlink()
        plain.write_bytes(written)
        with pytest.raises(OSError, match=str(error.strerror)):
            pack_segment(plain, StoppedDisk(number, error))
        assert said(plain.parent) == before, number
        for path in to_pack(plain.parent, True):
            pack_segment(path)
        assert [path.name for path in plain.parent.iterdir()] == ["0001.packed"]
        assert said(plain.parent) == before


KILLED_AT = """
import os, sys
from pathlib import Path
from tests.server.runs.test_pack_faults import StoppedDisk
from server.runs.pack import pack_segment
class Killed(StoppedDisk):
    def stop(self):
        os.kill(os.getpid(), 9)
sys.stdin.read()
for number, folder in enumerate(sorted(Path(sys.argv[1]).iterdir()), 1):
    if os.fork() == 0:
        pack_segment(folder / "0001.run", Killed(number, OSError()))
        os._exit(0)
    os.wait()
"""


def test_a_kill_at_each_step_leaves_a_run_that_is_read_and_packed_by_the_next(tmp_path: Path, written: bytes) -> None:
    runs = [tmp_path / f"20261125-14{number:02d}-bench" for number in range(1, 12)]
    for run in runs:
        run.mkdir()
        (run / "0001.run").write_bytes(written)
    before = said(runs[0])
    subprocess.run([sys.executable, "-c", KILLED_AT, str(tmp_path)], input=b"", check=True, timeout=60)
    left = set()
    for run in runs:
        left.add(tuple(sorted(path.name for path in run.iterdir())))
        assert said(run) == before
        for path in to_pack(run, True):
            pack_segment(path)
        assert [path.name for path in run.iterdir()] == ["0001.packed"]
        assert said(run) == before
    assert left == {
        ("0001.run",),
        ("0001.packing", "0001.run"),
        ("0001.packed", "0001.run"),
        ("0001.packed",),
    }
