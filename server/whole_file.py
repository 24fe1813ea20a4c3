"""A file that holds all of the old or all of the new content, whatever happens in between; a file that is locked; the
disk's room."""

import os
import shutil
import tempfile
from collections.abc import Iterable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import TextIO

_SYNCED_AT_ONCE = 16  # of 32 a thousand files take as long (measured)


def replace_file(path: Path, content: bytes, *, private: bool = False) -> None:
    """Written beside and renamed: a kill or a full disk leaves the old content whole. `private`: for its owner only.

    Never makes a folder. Raises OSError; nothing is left beside it then.
    """
    beside = write_beside(path, content, private=private)
    try:
        os.replace(beside, path)
    except OSError:
        beside.unlink(missing_ok=True)
        raise
    sync_folder(path.parent)


def write_beside(path: Path, content: bytes, *, private: bool = False) -> Path:
    """A file on the disk that only has to be renamed. Raises OSError; nothing is left then."""
    beside = path.with_name(path.name + ".writing")
    opened: int | Path = beside
    if private:
        opened, name = tempfile.mkstemp(prefix=f"{path.name}.", dir=path.parent)
        beside = Path(name)
    try:
        with open(opened, "wb") as file:
            file.write(content)
            file.flush()
            os.fsync(file.fileno())
    except OSError:
        beside.unlink(missing_ok=True)
        raise
    return beside


def sync_folder(folder: Path) -> None:
    """New names in the folder are on the disk when this returns, on systems where a folder can be synced."""
    if os.name == "nt":  # folders cannot be opened there; the rename is journaled
        return
    handle = os.open(folder, os.O_RDONLY)
    try:
        os.fsync(handle)
    finally:
        os.close(handle)


def sync_files(paths: Iterable[Path]) -> None:
    """What was written to these files is on the disk when this returns. Raises OSError.

    Several at once: the disk then writes its journal once for many, and thousands of small files take no minutes.
    """

    def sync(path: Path) -> None:
        with path.open("rb+") as file:
            os.fsync(file.fileno())

    with ThreadPoolExecutor(_SYNCED_AT_ONCE) as pool:
        for _ in pool.map(sync, paths):
            pass


def free_and_total(folder: Path) -> tuple[int, int]:
    """Bytes of its disk. Raises OSError."""
    usage = shutil.disk_usage(folder)
    return usage.free, usage.total


def locked(file: TextIO) -> bool:
    """Whether an open file could be locked. The system frees the lock when the process ends, however it ends."""
    try:
        if os.name == "nt":
            import msvcrt

            file.seek(4096)  # behind the text, which the second service wants to read
            msvcrt.locking(file.fileno(), msvcrt.LK_NBLCK, 1)  # type: ignore[attr-defined,unused-ignore]  # Windows only
        else:
            import fcntl

            fcntl.flock(file, fcntl.LOCK_EX | fcntl.LOCK_NB)
    except OSError:
        return False
    return True
