"""What rewriting a closed segment does to a disk: written beside, synced, read back from the disk, renamed."""

import os
from collections.abc import Callable, Iterable
from pathlib import Path
from typing import BinaryIO

from server.runs.segments import OpenSegment, open_segment
from server.whole_file import sync_folder


class Disk:
    """A test gives another one. Each may raise OSError."""

    open_segment: OpenSegment = staticmethod(open_segment)
    rename: Callable[[Path, Path], None] = staticmethod(os.rename)
    sync_folder: Callable[[Path], None] = staticmethod(sync_folder)
    remove: Callable[[Path], None] = staticmethod(os.unlink)

    def write(self, path: Path, pieces: Iterable[bytes]) -> None:
        """A new file of these pieces, synced."""
        file = self.open_segment(path)
        try:
            for piece in pieces:
                file.write(piece)
            file.sync()
        finally:
            file.close()


def from_disk(file: BinaryIO) -> None:
    """What is read of it next comes from the disk, where the system can say so, not from memory."""
    if hasattr(os, "posix_fadvise"):
        os.posix_fadvise(file.fileno(), 0, 0, os.POSIX_FADV_DONTNEED)
