"""A file that is made of a run: written beside, synced and renamed, over nothing that is there."""

import os
from collections.abc import Callable
from pathlib import Path

from server.export.format import ExportError
from server.runs.space import least_free
from server.whole_file import free_and_total, sync_folder

PART = ".part"  # behind the name of what is not whole yet


def look_at_room(folder: Path) -> None:
    """Raises ExportError where no more is free on its disk than what is kept for recordings."""
    free, total = free_and_total(folder)
    least = least_free(total)
    if free < least:
        raise ExportError(f"the disk of {folder} has less than {least / 1e9:.2g} GB left, which is kept for recordings")


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
