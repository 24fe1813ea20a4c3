"""A file that is made of a run: written beside, synced and renamed, over nothing that is there."""

import os
from collections.abc import Callable
from pathlib import Path

from server.export.format import ExportError
from server.whole_file import sync_folder

PART = ".part"  # behind the name of what is not whole yet


def written(target: Path, write: Callable[[Path], object]) -> int:
    """Bytes of the file, once it is whole. Raises ExportError; what `write` raises; nothing is left beside it then."""
    if target.exists():
        raise ExportError(f"{target} is there already, and nothing is written over; choose another name")
    part = target.with_name(target.name + PART)
    try:
        write(part)
        with part.open("rb+") as file:
            os.fsync(file.fileno())
            size = file.seek(0, os.SEEK_END)
        part.rename(target)
        sync_folder(target.parent)
    finally:
        part.unlink(missing_ok=True)
    return size
