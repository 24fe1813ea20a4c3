"""Checks of the wiring that a person kept beside a run: numbered, put aside when deleted, brought back.

A check that is deleted is renamed, as a deleted run is: `wiring-3.json` to `wiring-3.deleted-1795600000.json`, UTC
seconds. It is removed for good after as long as a run. Never makes a folder: a run that was deleted meanwhile stays so.
One caller at a time for one run.
"""

import json
import re
from dataclasses import dataclass
from pathlib import Path
from typing import Any

from server.runs.beside import read_json
from server.runs.trash import KEPT_S
from server.whole_file import replace_file, sync_folder

CHECK = "wiring-{}.json"
_KEPT = re.compile(r"wiring-([1-9][0-9]{0,5})\.json")
_DELETED = re.compile(r"wiring-([1-9][0-9]{0,5})\.deleted-(\d{1,12})\.json")
CHECKS_MAX = 50  # of one run, and as many deleted ones: far more than anybody makes between two starts of a motor


@dataclass(frozen=True, slots=True)
class DeletedCheck:
    """A check that was deleted, when, and when it will be removed for good."""

    number: int
    deleted_utc_s: float
    removed_utc_s: float
    place: Path


def add_check(run: Path, record: dict[str, Any]) -> int | None:
    """Keep what a check of the wiring found; its number, which no other that is there has, or None where CHECKS_MAX are
    kept already. Raises OSError; FileNotFoundError where there is no such run."""
    run.stat()
    numbers = check_numbers(run)
    if len(numbers) >= CHECKS_MAX:
        return None
    number = max([*numbers, *(each.number for each in deleted_checks(run))], default=0) + 1
    data = json.dumps({**record, "number": number}, separators=(",", ":"), allow_nan=False).encode()
    replace_file(run / CHECK.format(number), data, private=True)
    return number


def check_numbers(run: Path) -> list[int]:
    """Numbers of the checks that are kept with a run, in their order."""
    there = (_KEPT.fullmatch(path.name) for path in run.glob(CHECK.format("*")))
    return sorted(int(found[1]) for found in there if found)


def read_check(run: Path, number: int) -> dict[str, Any] | None:
    """One of them; None where there is none that can be read."""
    return read_json(run / CHECK.format(number))


def delete_check(run: Path, number: int, utc_s: float) -> None:
    """Put one aside; of more than CHECKS_MAX that are aside the one longest there is removed. Raises
    FileNotFoundError where there is none of that number, and other OSErrors."""
    kept = run / CHECK.format(number)
    kept.rename(kept.with_name(f"wiring-{number}.deleted-{utc_s:.0f}.json"))
    for each in deleted_checks(run)[CHECKS_MAX:]:
        each.place.unlink()
    sync_folder(run)


def undo_check(run: Path, number: int) -> bool:
    """Bring one back; False where CHECKS_MAX are kept already. Raises FileNotFoundError where none of that number was
    deleted, and other OSErrors."""
    deleted = next((each for each in deleted_checks(run) if each.number == number), None)
    if deleted is None:
        raise FileNotFoundError(None, f"no check {number} was deleted")
    if len(check_numbers(run)) >= CHECKS_MAX:
        return False
    deleted.place.rename(run / CHECK.format(number))
    sync_folder(run)
    return True


def deleted_checks(run: Path) -> list[DeletedCheck]:
    """Those that were deleted, the last deleted first."""
    found = []
    for place in run.glob(CHECK.format("*.deleted-*")):
        if parts := _DELETED.fullmatch(place.name):
            at_s = float(parts[2])
            found.append(DeletedCheck(int(parts[1]), at_s, at_s + KEPT_S, place))
    return sorted(found, key=lambda each: (-each.deleted_utc_s, -each.number))


def remove_overdue_checks(runs: Path, utc_s: float) -> int:
    """Remove what was deleted long enough ago, of all runs in the folder; how many. Raises OSError."""
    overdue = [each for run in runs.iterdir() for each in deleted_checks(run) if each.removed_utc_s <= utc_s]
    for each in overdue:
        each.place.unlink(missing_ok=True)
    return len(overdue)
