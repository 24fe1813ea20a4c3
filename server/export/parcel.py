"""A run as one file for another PC, made for the service as exports are.

`python -m server.export.parcel` is a child process of low priority.
"""

import sys
from pathlib import Path
from typing import Any

from server.export.child import main
from server.export.format import ExportError, Share
from server.export.place import PART, look_at_room, written
from server.runs.parcel import ParcelError, pack


def make(run: Path, target: Path, share: Share = lambda share: None) -> int:
    """Bytes of the file that was made. Raises ExportError; OSError; nothing is left beside it then."""

    def told(now: float) -> None:
        look_at_room(target.parent)
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
