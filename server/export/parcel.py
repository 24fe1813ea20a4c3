"""A run as one file for another PC, made for the service as exports are.

`python -m server.export.parcel` is a child process of low priority.
"""

import sys
from pathlib import Path
from shutil import disk_usage
from typing import Any

from server.export.child import main
from server.export.format import FREE_LEFT_BYTES, ExportError, Share
from server.export.place import PART, written
from server.runs.parcel import ParcelError, pack


def make(run: Path, target: Path, share: Share = lambda share: None) -> int:
    """Bytes of the file that was made. Raises ExportError; OSError; nothing is left beside it then."""

    def told(now: float) -> None:
        if disk_usage(target.parent).free < FREE_LEFT_BYTES:
            raise ExportError(f"the disk of {target.parent} has less than 1 GB left, which is kept for recordings")
        share(now)

    log = target.with_name(f"{target.stem}.log{PART}")
    try:
        return written(target, lambda part: pack(run, part, log, told))
    except ParcelError as error:
        raise ExportError(str(error)) from None


def _answer(said: dict[str, Any], share: Share) -> dict[str, Any]:
    return {"bytes": make(Path(said["run"]), Path(said["target"]), share)}


if __name__ == "__main__":
    sys.exit(main(_answer))
