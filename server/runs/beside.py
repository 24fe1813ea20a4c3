"""What is kept in a run's folder beside its segments: a person's note, the run in short, checks of the wiring.

Playing needs none of them.

Each is written beside and renamed, so that a kill or a full disk leaves the one before. Never makes a folder: a run
that was deleted meanwhile stays so.
"""

import json
import re
from pathlib import Path
from typing import Any

from server.runs.digest import FORMAT
from server.runs.segments import segments
from server.whole_file import replace_file, sync_folder

NOTE = "note.txt"
DIGEST = "digest.json"
NOTE_MAX = 2000  # characters
_NOTE_BYTES_MAX = 4 * NOTE_MAX
_BYTES_MAX = 1 << 20  # far more than a digest or a check ever has: what is longer is none of ours
CHECK = "wiring-{}.json"
_CHECK_NAME = re.compile(r"wiring-([1-9][0-9]{0,3})\.json")
CHECKS_MAX = 999


def read_note(run: Path) -> str:
    """The note of a run; empty where there is none, or none that can be read."""
    if (run / NOTE).is_symlink() or not (run / NOTE).is_file():  # what lies elsewhere is no note of ours
        return ""
    try:
        with (run / NOTE).open("rb") as file:
            return file.read(_NOTE_BYTES_MAX).decode("utf-8", "replace")[:NOTE_MAX]
    except OSError:
        return ""


def write_note(run: Path, text: str) -> None:
    """Keep the note; an empty one is taken away. Raises OSError; FileNotFoundError where there is no such run."""
    if text:
        replace_file(run / NOTE, text.encode("utf-8", "replace"), private=True)
    else:
        run.stat()
        (run / NOTE).unlink(missing_ok=True)
        sync_folder(run)


def read_digest(run: Path) -> dict[str, Any] | None:
    """The run in short; None where it was not summed up yet, or by another version of this program."""
    said = _read_json(run / DIGEST)
    return said if said is not None and said.get("format") == FORMAT else None


def write_digest(run: Path, record: dict[str, Any]) -> None:
    """Keep the run in short. Raises OSError."""
    content = json.dumps(record, separators=(",", ":"), allow_nan=False).encode()
    replace_file(run / DIGEST, content, private=True)


def add_check(run: Path, record: dict[str, Any]) -> int:
    """Keep what a check of the wiring found; answers with its number. Raises OSError; FileNotFoundError where there is
    no such run."""
    run.stat()
    number = max(check_numbers(run), default=0) + 1
    if number > CHECKS_MAX:
        raise OSError(None, f"{CHECKS_MAX} checks are kept with this run already")
    data = json.dumps({**record, "number": number}, separators=(",", ":"), allow_nan=False).encode()
    replace_file(run / CHECK.format(number), data, private=True)
    return number


def check_numbers(run: Path) -> list[int]:
    """Numbers of the checks that are kept with a run, in their order."""
    there = (_CHECK_NAME.fullmatch(path.name) for path in run.glob(CHECK.format("*")))
    return sorted(int(found[1]) for found in there if found)


def read_check(run: Path, number: int) -> dict[str, Any] | None:
    """One of them; None where there is none that can be read."""
    return _read_json(run / CHECK.format(number))


def size_of(run: Path) -> int:
    """Bytes of its segments. Raises OSError."""
    return sum(path.stat().st_size for path in segments(run))


def _read_json(path: Path) -> dict[str, Any] | None:
    """What lies elsewhere, or is longer than ours ever is, is none of ours."""
    if path.is_symlink() or not path.is_file():
        return None
    try:
        if path.stat().st_size > _BYTES_MAX:
            return None
        said = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        return None
    return said if isinstance(said, dict) else None
