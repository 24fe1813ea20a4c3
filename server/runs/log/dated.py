"""Dated entries beside a run: alarms as they were raised, acknowledged and ended, a person's notes on moments.

What a person said cannot be made again from the bytes of a board, so it lies in a text file that is only appended to,
not in the log: a line each, its CRC-32 and JSON. It can be added to after the run has closed.
"""

import json
import os
from collections.abc import Collection, Mapping
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from server.runs.crc import crc32
from server.runs.layout import is_time
from server.whole_file import sync_folder

DATED = "dated.txt"
ENTRY_BYTES_MAX = 16 << 10
FILE_BYTES_MAX = 16 << 20  # a thousand entries at their longest, a hundred thousand as they are


@dataclass(frozen=True, slots=True)
class Dated:
    """One entry: what kind, when (UTC, and board time where it has one), and what is said."""

    kind: str
    at_utc_s: float
    board_s: float | None
    said: Mapping[str, Any]


def line_of(entry: Dated) -> bytes:
    """Its JSON. Raises ValueError and TypeError for what is none, has no time or is too long."""
    if not is_time(entry.at_utc_s):
        raise ValueError(f"{entry.at_utc_s} is no time")
    record = {"kind": entry.kind, "at_utc_s": entry.at_utc_s, "board_s": entry.board_s, "said": dict(entry.said)}
    text = json.dumps(record, allow_nan=False, separators=(",", ":")).encode()
    if len(text) > ENTRY_BYTES_MAX:
        raise ValueError(f"an entry of {len(text)} bytes, at most {ENTRY_BYTES_MAX}")
    return text


def add_dated(run: Path, entry: Dated) -> None:
    """Append an entry and sync it. Raises OSError, FileNotFoundError where there is no such run, ValueError where
    the file is full, and as `line_of` does."""
    text = line_of(entry)
    path = run / DATED
    is_new = not path.exists()
    handle = os.open(path, os.O_RDWR | os.O_CREAT | os.O_APPEND | getattr(os, "O_NOFOLLOW", 0), 0o600)
    try:
        size = os.fstat(handle).st_size
        if size + len(text) > FILE_BYTES_MAX:
            raise ValueError(f"{path.name} of this run is full ({FILE_BYTES_MAX >> 20} MiB)")
        whole = not size or os.pread(handle, 1, size - 1) == b"\n"  # a kill may have cut the last line
        line = (b"" if whole else b"\n") + b"%08x %s\n" % (crc32(text), text)
        if os.write(handle, line) < len(line):
            raise OSError(None, "no space left for the whole entry")  # half a line is passed over
        os.fsync(handle)
    finally:
        os.close(handle)
    if is_new:
        sync_folder(run)


def read_dated(run: Path, kinds: Collection[str] = ()) -> list[Dated]:
    """The entries of a run, or those of some kinds, in the order in which they were added; lines that are broken are
    passed over. Raises OSError; none where there is no file."""
    path = run / DATED
    if path.is_symlink() or not path.is_file():
        return []
    with path.open("rb") as file:
        lines = file.read(FILE_BYTES_MAX).split(b"\n")
    found = (_entry(line) for line in lines if line)
    return [each for each in found if each is not None and (not kinds or each.kind in kinds)]


def _entry(line: bytes) -> Dated | None:
    check, _, text = line.partition(b" ")
    if check != b"%08x" % crc32(text):
        return None
    try:
        said = json.loads(text)
        return Dated(said["kind"], float(said["at_utc_s"]), said["board_s"], dict(said["said"]))
    except (ValueError, TypeError, KeyError, RecursionError):
        return None
