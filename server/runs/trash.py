"""Deleted runs: put aside beside the others, brought back, and removed for good after a time that is told.

A run is put aside by one rename, so a kill leaves it in one place or the other. Its new name says when it was deleted:
`deleted/20261125-1402-heron-1.1795600000`, UTC seconds. The library, and nothing else, finds runs by their folders.
"""

import re
import shutil
from dataclasses import dataclass
from pathlib import Path

from server.runs.layout import is_run_name
from server.runs.library import DELETED, Library, RunSummary, summary_of
from server.whole_file import sync_folder

KEPT_S = 30 * 86_400.0  # a deleted run is kept so long
_PLACE = re.compile(r"(.+)\.(\d{1,12})")


@dataclass(frozen=True, slots=True)
class Deleted:
    """A run that was deleted, when, and when it will be removed for good."""

    run: RunSummary
    deleted_utc_s: float
    removed_utc_s: float
    place: Path


class Trash:
    """Of one library. Any thread may call; two calls for one run: the second finds it gone (FileNotFoundError)."""

    def __init__(self, library: Library) -> None:
        self._library = library
        self._folder = library.folder / DELETED

    def delete(self, name: str, utc_s: float) -> None:
        """Put a run aside. Raises FileNotFoundError where there is none of that name, and other OSErrors."""
        run = self._run(name)
        self._folder.mkdir(mode=0o700, exist_ok=True)
        run.rename(self._folder / f"{name}.{utc_s:.0f}")
        sync_folder(self._library.folder)
        sync_folder(self._folder)
        self._library.look_again(name)

    def undo(self, name: str) -> None:
        """Bring a run back. Raises FileNotFoundError where none of that name was deleted, and other OSErrors."""
        self._run(name, there=False)
        for deleted in self.runs():
            if deleted.run.name == name:
                deleted.place.rename(self._library.folder / name)
                sync_folder(self._library.folder)
                self._library.look_again(name)
                return
        raise FileNotFoundError(None, f"no run {name} was deleted")

    def runs(self) -> list[Deleted]:
        """The deleted runs, the last deleted first. Raises OSError."""
        if not self._folder.is_dir():
            return []
        found = []
        for place in self._folder.iterdir():
            parts = _PLACE.fullmatch(place.name)
            if parts and is_run_name(parts[1]) and place.is_dir():
                summary, at_s = summary_of(place, parts[1]), float(parts[2])
                found.append(Deleted(summary, at_s, at_s + KEPT_S, place))
        return sorted(found, key=lambda each: (-each.deleted_utc_s, each.run.name))

    def empty(self, name: str = "") -> int:
        """Remove deleted runs for good, all or this one; how many. Raises OSError."""
        gone = [each for each in self.runs() if name in ("", each.run.name)]
        for each in gone:
            shutil.rmtree(each.place)
        return len(gone)

    def remove_overdue(self, utc_s: float) -> list[str]:
        """Remove what was deleted long enough ago; their names. Raises OSError."""
        overdue = [each for each in self.runs() if each.removed_utc_s <= utc_s]
        for each in overdue:
            shutil.rmtree(each.place)
        return [each.run.name for each in overdue]

    def _run(self, name: str, there: bool = True) -> Path:
        """The folder of a run. A name that no run can have is not even looked for."""
        run = self._library.folder / name
        if not is_run_name(name) or (there and not run.is_dir()):
            raise FileNotFoundError(None, f"there is no run {name[:100]}")
        if not there and run.exists():
            raise FileExistsError(None, f"there is a run {name} already")
        return run
