"""A segment file whose Nth operation fails, and a disk that forgets what was not synced."""

from dataclasses import dataclass, field
from pathlib import Path

from server.runs.segments import SegmentFile, open_segment


@dataclass(slots=True)
class Disk:
    """`fail`: numbers of the operations (open, write, sync, close, counted over all files) that fail."""

    fail: frozenset[int] = frozenset()
    half: bool = False  # a failing write leaves half of its bytes
    count: int = 0
    kinds: list[str] = field(default_factory=list)
    failed: list[str] = field(default_factory=list)
    synced: dict[Path, int] = field(default_factory=dict)

    def open(self, path: Path) -> SegmentFile:
        self.step("open")
        return _File(self, path, open_segment(path))

    def step(self, kind: str) -> None:
        self.count += 1
        self.kinds.append(kind)
        if self.count in self.fail:
            self.failed.append(kind)
            raise OSError(28, "No space left on device")

    def cut_power(self) -> None:
        """What was not synced is gone."""
        for path, size in self.synced.items():
            path.write_bytes(path.read_bytes()[:size])


class _File:
    def __init__(self, disk: Disk, path: Path, file: SegmentFile) -> None:
        self._disk, self._path, self._file = disk, path, file
        disk.synced[path] = 0

    def write(self, data: bytes) -> None:
        try:
            self._disk.step("write")
        except OSError:
            if self._disk.half:
                self._file.write(data[: len(data) // 2])
            raise
        self._file.write(data)

    def sync(self) -> None:
        self._disk.step("sync")
        self._file.sync()
        self._disk.synced[self._path] = self._path.stat().st_size

    def close(self) -> None:
        try:
            self._disk.step("close")
        finally:
            self._file.close()
