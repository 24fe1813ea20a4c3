"""A disk whose power is cut: of what no sync has confirmed any sectors may be there, others not, one torn.

A kill is no power cut: the system keeps what was written. So the files are kept here, synced bytes apart from the rest.
"""

from dataclasses import dataclass, field
from pathlib import Path
from random import Random

from server.runs.layout import Entry
from server.runs.library import Library
from server.runs.replay import recorded
from server.runs.segments import SegmentFile
from server.runs.writer import SYNC_EVERY_S, Writer
from tests.server.runs.test_writer import CLOSE, OPEN, PLENTY, chunk

SECTOR = 512  # written whole or not, on most disks; a torn one is tried too
STEP_S = 0.1
STORY = [OPEN, *map(chunk, range(80))]


@dataclass(slots=True)
class PowerDisk:
    """`failing`: how likely each open, write and sync fails; what a failed sync should have confirmed never is."""

    draw: Random
    failing: float = 0.0
    files: dict[Path, "_File"] = field(default_factory=dict)

    def open(self, path: Path) -> SegmentFile:
        self.step()
        path.touch(exist_ok=False)
        self.files[path] = _File(self)
        return self.files[path]

    def step(self) -> None:
        if self.draw.random() < self.failing:
            raise OSError(5, "Input/output error")

    def cut(self) -> None:
        """The power goes; the files are as the disk has them then."""
        for path, file in self.files.items():
            path.write_bytes(file.left(self.draw))


@dataclass(slots=True)
class _File:
    disk: PowerDisk
    synced: bytes = b""
    unsynced: bytes = b""

    def write(self, data: bytes) -> None:
        try:
            self.disk.step()
        except OSError:
            self.unsynced += data[: self.disk.draw.randrange(len(data) + 1)]
            raise
        self.unsynced += data

    def sync(self) -> None:
        self.disk.step()
        self.synced += self.unsynced
        self.unsynced = b""

    def close(self) -> None:
        return

    def left(self, draw: Random) -> bytes:
        whole, size = bytearray(self.synced + self.unsynced), len(self.synced)
        likely = draw.choice((0.0, 0.2, 0.5, 0.9, 1.0))
        end = size
        for at in range(size - size % SECTOR, len(whole), SECTOR):
            first, stop = max(at, size), min(at + SECTOR, len(whole))
            if draw.random() < likely:
                end = stop
                continue
            torn = draw.randrange(first, stop + 1) if draw.random() < 0.1 else first
            whole[torn:stop] = bytes(stop - torn)
        long = draw.random() < 0.5  # the length may be on the disk before the bytes are
        return bytes(whole if long else whole[:end])


def cut_and_continued(folder: Path, seed: int) -> int:
    """Record, cut the power at some moment, go on with the run; how many entries were lost.

    Raises AssertionError where more is lost than the last second, something is wrong, twice or not told.
    """
    draw = Random(seed)
    disk = PowerDisk(draw, draw.choice((0.0, 0.0, 0.1, 0.4)))
    library = Library(folder)
    writer, stop = Writer(library, "bench", disk.open, lambda _: PLENTY), draw.randrange(1, len(STORY))
    for k, entry in enumerate(STORY[:stop]):
        writer.step([entry], 100.0 + STEP_S * k)
    sure = STORY[: max(0, stop - round(SYNC_EVERY_S / STEP_S) - 1)]
    if writer.writing.state == "failed":
        since = writer.writing.gap_since_utc_s
        sure = [entry for entry in STORY[:stop] if since is not None and entry.utc_s < since]
    library.close()
    disk.cut()
    kept = _kept(folder, STORY[:stop], sure)
    library = Library(folder)
    left, after = library.left_open("bench"), PowerDisk(draw)
    if left is not None:
        writer = Writer(library, "bench", after.open, lambda _: PLENTY, left.name)
        writer.step([chunk(90), CLOSE], 200.0)
        assert writer.writing.state == "closed"
        after.cut()
        assert [each for each in recorded(folder / left.name) if isinstance(each, Entry)] == [*kept, chunk(90), CLOSE]
    library.close()
    return stop - len(kept)


def _kept(folder: Path, put: list[Entry], sure: list[Entry]) -> list[Entry]:
    runs = [path for path in folder.iterdir() if path.is_dir()]
    said = list(recorded(runs[0])) if runs else []
    kept = [each for each in said if isinstance(each, Entry)]
    places = [put.index(each) for each in kept]  # ValueError: an entry that nobody gave
    assert places == sorted(set(places)), "an entry came twice, or not in its place"
    assert kept[: len(sure)] == sure, f"{len(sure)} entries were sure, {len(kept)} are there"
    if places and places != list(range(places[-1] + 1)):
        assert any(isinstance(each, str) for each in said), "something is missing and nothing is said"
    return kept
