"""A file that holds all of the old or all of the new content, whatever happens in between."""

import os
from pathlib import Path


def replace_file(path: Path, content: bytes) -> None:
    """The file holds all of the old or all of the new content, whatever happens in between."""
    beside = path.with_name(path.name + ".writing")
    with open(beside, "wb") as file:
        file.write(content)
        file.flush()
        os.fsync(file.fileno())
    os.replace(beside, path)
    sync_folder(path.parent)


def sync_folder(folder: Path) -> None:
    """New names in the folder are on the disk when this returns, on systems where a folder can be synced."""
    if os.name == "nt":  # folders cannot be opened there; the rename is journaled
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)
