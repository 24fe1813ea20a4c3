"""What is kept in a run's folder beside its segments: a person's note and tags, the run in short (checks: `checks.py`).

Playing needs none of them.

Each is written beside and renamed, so that a kill or a full disk leaves the one before. Never makes a folder: a run
that was deleted meanwhile stays so.
"""

import json
from collections.abc import Iterable
from pathlib import Path
from typing import Any

from server.runs.digest import FORMAT
from server.runs.segments import plain_bytes, segments
from server.whole_file import replace_file, sync_folder

NOTE = "note.txt"
TAGS = "tags.txt"  # a line each
DIGEST = "digest.json"
_DIGEST_BYTES_MAX = 32 << 20  # far more than it ever has: a thousand cycles, a hundred settings and descriptions each
NOTE_MAX = 2000  # characters
TAG_MAX, TAGS_MAX = 40, 12  # characters of one, how many: as many as stand beside a run in a list
_NOTE_BYTES_MAX = 4 * NOTE_MAX
_BYTES_MAX = 1 << 20  # far more than a check ever has: what is longer is none of ours


def read_note(run: Path) -> str:
    """The note of a run; empty where there is none, or none that can be read."""
    return _read_text(run / NOTE)[:NOTE_MAX]


def write_note(run: Path, text: str) -> None:
    """Keep the note; an empty one is taken away. Raises OSError; FileNotFoundError where there is no such run."""
    _write_text(run / NOTE, text)


def read_tags(run: Path) -> tuple[str, ...]:
    """The tags of a run, in the order in which a person gave them; none where none can be read."""
    return plain_tags(_read_text(run / TAGS).splitlines())


def write_tags(run: Path, tags: Iterable[str]) -> None:
    """Keep these tags in place of those before. Raises as `write_note` does."""
    _write_text(run / TAGS, "\n".join(plain_tags(tags)))


def plain_tags(tags: Iterable[str]) -> tuple[str, ...]:
    """Each once, whatever its capitals, with one space between its words; no more than are kept."""
    plain = (" ".join(each.split())[:TAG_MAX].rstrip() for each in tags)
    once: dict[str, str] = {}
    for each in plain:
        if each:
            once.setdefault(each.casefold(), each)
    return tuple(once.values())[:TAGS_MAX]


def _read_text(path: Path) -> str:
    if path.is_symlink() or not path.is_file():  # what lies elsewhere is no text of ours
        return ""
    try:
        with path.open("rb") as file:
            return file.read(_NOTE_BYTES_MAX).decode("utf-8", "replace")
    except OSError:
        return ""


def _write_text(path: Path, text: str) -> None:
    if text:
        replace_file(path, text.encode("utf-8", "replace"), private=True)
    else:
        path.parent.stat()
        path.unlink(missing_ok=True)
        sync_folder(path.parent)


def read_digest(run: Path) -> dict[str, Any] | None:
    """The run in short; None where it was not summed up yet, or by another version of this program."""
    said = read_json(run / DIGEST, _DIGEST_BYTES_MAX)
    return said if said is not None and said.get("format") == FORMAT else None


def read_former_digest(run: Path) -> dict[str, Any] | None:
    """One that the version before this one made: of a run that was thinned since, nobody can make it again."""
    said = read_json(run / DIGEST, _DIGEST_BYTES_MAX)
    return {**said, "format": FORMAT} if said is not None and said.get("format") == FORMAT - 1 else None


def write_digest(run: Path, record: dict[str, Any]) -> None:
    """Keep the run in short. Raises OSError."""
    content = json.dumps(record, separators=(",", ":"), allow_nan=False).encode()
    replace_file(run / DIGEST, content, private=True)


def size_of(run: Path) -> int:
    """Bytes of its segments as they were written, packed or not. Raises OSError."""
    return sum(map(plain_bytes, segments(run)))


def read_json(path: Path, bytes_max: int = _BYTES_MAX) -> dict[str, Any] | None:
    """What stands in a file of ours; None where it cannot be read. What lies elsewhere, or is longer than ours ever is,
    is none of ours."""
    if path.is_symlink() or not path.is_file():
        return None
    try:
        if path.stat().st_size > bytes_max:
            return None
        said = json.loads(path.read_bytes())
    except (OSError, ValueError, RecursionError):
        return None
    return said if isinstance(said, dict) else None
