"""A folder for what is not whole yet, with a lock in it for as long as who made it lives, however that ends.

The next one who makes such a folder beside it removes those whose lock is free.
"""

import shutil
import tempfile
import time
from pathlib import Path
from stat import S_ISREG
from types import TracebackType
from typing import Self

from server.whole_file import locked

LOCK = "in-use"
RECEIVING = ".receiving-"  # how folders begin in which runs are taken in
SETTLED_S = 10.0  # who makes a folder has locked it by then


class HeldFolder:
    """`path`, for a `with`: at its end it is gone, unless it was renamed. Raises OSError where it cannot be made."""

    def __init__(self, prefix: str, beside: Path) -> None:
        remove_left(prefix, beside)
        self.path = Path(tempfile.mkdtemp(prefix=prefix, dir=beside))
        try:
            self._lock = (self.path / LOCK).open("x")
        except OSError:
            self.path.rmdir()
            raise
        locked(self._lock)  # where the disk knows no locks nobody finds it free either

    def let_go(self) -> None:
        """Before it is renamed: the lock is no part of what it holds."""
        self._lock.close()
        (self.path / LOCK).unlink(missing_ok=True)

    def __enter__(self) -> Self:
        return self

    def __exit__(self, kind: type[BaseException] | None, error: BaseException | None, at: TracebackType | None) -> None:
        self._lock.close()
        shutil.rmtree(self.path, ignore_errors=True)


def remove_left(prefix: str, beside: Path) -> None:
    """Those whose maker was ended. What cannot be removed stays for the next time."""
    for folder in beside.glob(f"{prefix}*"):
        try:
            lock = folder / LOCK
            told = lock.lstat()
            if folder.is_symlink() or not S_ISREG(told.st_mode) or time.time() - told.st_mtime < SETTLED_S:
                continue
            with lock.open("r+") as file:
                is_free = locked(file)
        except OSError:
            continue
        if is_free:
            shutil.rmtree(folder, ignore_errors=True)
