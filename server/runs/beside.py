"""What is kept in a run's folder beside its segments: a person's note and tags, the run in short (checks: `checks.py`).

Playing needs none of them.

Each is written beside and renamed, so that a kill or a full disk leaves the one before. Never makes a folder: a run
that was deleted meanwhile stays so.
"""

import json
from collections.abc import Iterable
from contextlib import suppress
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from server.runs.crc import crc32
from server.runs.digest import FORMAT, is_record
from server.runs.segments import plain_bytes, segments
from server.test_plan.evidence import Evidence
from server.whole_file import replace_file, sync_folder

NOTE = "note.txt"
TAGS = "tags.txt"  # a line each
DIGEST = "digest.json"
_DIGEST_BYTES_MAX = 32 << 20  # far more than it ever has: a thousand cycles, a hundred settings and descriptions each
SO_FAR = "so_far.json"
_CHECKSUM = "crc32"  # of all else in such a file
NOTE_MAX = 2000  # characters
TAG_MAX, TAGS_MAX = 40, 12  # characters of one, how many: as many as stand beside a run in a list
_NOTE_BYTES_MAX = 4 * NOTE_MAX
_BYTES_MAX = 1 << 20  # far more than a check ever has: what is longer is none of ours


@dataclass(frozen=True, slots=True)
class SoFar:
    """What a run has to say before it is summed up. `evidence`: the record of `Evidence`; `missing_s`: time without
    samples."""

    evidence: dict[str, Any]
    missing_s: float


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
    """The run in short; None where it was not summed up yet, by another version of this program, or where what lies
    there is not what was written: figures with a flipped bit are no figures."""
    return _read(run / DIGEST)


def read_so_far(run: Path) -> SoFar | None:
    """What the run had to say when that was last kept, or when it was summed up; None where nothing can be read."""
    said = _read(run / SO_FAR) or read_digest(run) or {}
    evidence, missing_s = said.get("evidence"), said.get("missing_s")
    if not isinstance(evidence, dict) or not isinstance(missing_s, int | float) or not _goes_on(evidence):
        return None
    return SoFar(evidence, missing_s)


def _goes_on(evidence: dict[str, Any]) -> bool:
    """Whether a run can go on from it: a whole file may be strange all the same."""
    try:
        like, ends = Evidence(evidence).record(None), (evidence["from_utc_s"], evidence["to_utc_s"])
    except (LookupError, TypeError, ValueError, AttributeError):
        return False
    return like.keys() - {"moments"} <= evidence.keys() and all(isinstance(each, float | int | None) for each in ends)


def keep_so_far(run: Path, it: SoFar, is_open: bool) -> None:
    """Keep what a run has to say so far, of a closed one until it is summed up. Raises OSError."""
    summed_up = changed_ns(run / DIGEST)
    if not is_open and summed_up is not None and not (run / SO_FAR).exists():
        return
    _write(run / SO_FAR, {"format": FORMAT, "evidence": it.evidence, "missing_s": it.missing_s})
    if changed_ns(run / DIGEST) != summed_up:  # by another program, just now
        (run / SO_FAR).unlink(missing_ok=True)


def changed_ns(path: Path) -> int | None:
    """When a file was changed last; None: it is not there."""
    try:
        return path.stat().st_mtime_ns
    except OSError:
        return None


def _read(path: Path) -> dict[str, Any] | None:
    said = read_json(path, _DIGEST_BYTES_MAX)
    if said is None or said.get("format") != FORMAT:
        return None
    checksum = said.pop(_CHECKSUM, None)
    return said if checksum == _checksum(said) is not None else None


def read_former_digest(run: Path) -> dict[str, Any] | None:
    """One that the version before this one made: of a run that was thinned since, nobody can make it again.

    It has no checksum: it is taken if its numbers are finite and it has all that a record has.
    """
    said = read_json(run / DIGEST, _DIGEST_BYTES_MAX)
    if said is None or said.get("format") != FORMAT - 1 or _checksum(said) is None or not is_record(said):
        return None
    return {**said, "format": FORMAT}


def write_digest(run: Path, record: dict[str, Any]) -> None:
    """Keep the run in short; what was kept until now of what it says is in it. Raises OSError."""
    _write(run / DIGEST, record)
    with suppress(OSError):  # what cannot be removed is read no more
        for each in run.glob(f"{SO_FAR}*"):  # and what a kill left half written
            each.unlink(missing_ok=True)


def _write(path: Path, record: dict[str, Any]) -> None:
    body = _plain(record)
    replace_file(path, body[:-1] + f',"{_CHECKSUM}":{crc32(body)}}}'.encode(), private=True)


def _plain(record: dict[str, Any]) -> bytes:
    """What is written of a record, the same again of what was read. Raises ValueError: a number is not finite."""
    return json.dumps(record, separators=(",", ":"), allow_nan=False).encode()


def _checksum(said: dict[str, Any]) -> int | None:
    """Of what was read; None where a number in it is none or not finite, which none of ours is."""
    try:
        return crc32(_plain(said))
    except (ValueError, RecursionError):
        return None


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
