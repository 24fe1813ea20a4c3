"""The runs that there are: folders are the truth, the SQLite catalogue beside them makes listing fast.

One connection, which writes, in one process; any thread may call. A catalogue that is lost, broken or does not fit the
folders is made again from them. Nothing here changes or deletes a folder (trash.py does).
"""

import json
import logging
import sqlite3
import threading
import time
from dataclasses import astuple, dataclass, replace
from datetime import UTC, datetime
from pathlib import Path

from server.runs.held_folder import RECEIVING, remove_left
from server.runs.layout import UTC_S_MAX, Kind, is_run_name, is_time, run_name
from server.runs.segments import first_entries, last_entry, segments
from server.whole_file import sync_folder

log = logging.getLogger(__name__)

CATALOGUE = "catalogue.sqlite"
RECEIVED = "received"  # an empty file in the folder of a run that came from another PC
DELETED = "deleted"  # the folder of deleted runs, beside the others (trash.py)
_VERSION = 2  # 1 did not know which runs came from another PC: it is filled anew
_ATTEMPTS_MAX = 1000  # runs of one rig that open within one minute
_CREATE = (
    "CREATE TABLE runs (name TEXT PRIMARY KEY, rig TEXT NOT NULL, serial TEXT NOT NULL, opened_utc_s REAL NOT NULL,"
    " closed_utc_s REAL, reason TEXT NOT NULL, received INTEGER NOT NULL)"
)
_IN_MEMORY = ":memory:"
_CLOCK_STEP_NS = 2_000_000_000  # of the clocks that date folders, at its coarsest (FAT: 2 s, from memory)
_BUSY_S = 0.5  # another program that only looks has finished by then
_STRANGE = (
    "typeof(opened_utc_s) != 'real' OR typeof(closed_utc_s) NOT IN ('real', 'null')"
    f" OR opened_utc_s NOT BETWEEN 0 AND {UTC_S_MAX} OR closed_utc_s NOT BETWEEN 0 AND {UTC_S_MAX}"
    " OR typeof(received) != 'integer' OR received NOT IN (0, 1)"
    " OR typeof(name) != 'text' OR typeof(rig) != 'text' OR typeof(serial) != 'text' OR typeof(reason) != 'text'"
)
_COLUMNS = "name, rig, serial, opened_utc_s, closed_utc_s, reason, received"


@dataclass(frozen=True, slots=True)
class RunSummary:
    """One run. `closed_utc_s` None: it is open, or was when the service ended; `reason`: why it closed; `received`: it
    came from another PC, so its rig is another one, whatever its name."""

    name: str
    rig: str
    serial: str
    opened_utc_s: float
    closed_utc_s: float | None = None
    reason: str = ""
    received: bool = False

    def is_of(self, rig: str) -> bool:
        """Whether a rig of this PC recorded it."""
        return self.rig == rig and not self.received


class Library:
    """`folder` holds the runs; it is made if it is not there. Raises OSError if that fails.

    `remade` says why the catalogue was made again, or is empty; the terminal is told unless there was none.
    """

    def __init__(self, folder: Path) -> None:
        self.folder = folder
        folder.mkdir(parents=True, exist_ok=True)
        remove_left(RECEIVING, folder)
        self._lock = threading.Lock()
        self.remade = ""
        self._empty = False  # the catalogue is in memory and does not know the folders yet
        self._looked_at_ns = 0  # when the folder had changed as runs that came from elsewhere were looked for
        self._base = self._open()
        try:
            self._reconcile()
        except sqlite3.Error as error:  # it can be read but not written, perhaps because another program reads it too
            self._go_without(error)

    def close(self) -> None:
        """End of use."""
        with self._lock:
            self._base.close()

    def create(self, rig: str, utc_s: float) -> Path:
        """A new folder for a run that opens now. Raises OSError."""
        for attempt in range(1, _ATTEMPTS_MAX):
            path = self.folder / run_name(utc_s, rig, attempt)
            if any((self.folder / DELETED).glob(f"{path.name}.*")):
                continue  # who brings that one back must find its place free
            try:
                path.mkdir(mode=0o700)
            except FileExistsError:
                continue
            try:
                sync_folder(self.folder)
            except OSError:
                path.rmdir()  # the next attempt makes it again
                raise
            return path
        raise FileExistsError(None, f"{_ATTEMPTS_MAX} runs of {rig} opened in one minute")

    def opened(self, name: str, rig: str, serial: str, utc_s: float) -> None:
        """Note that a run opened. Raises sqlite3.Error."""
        self._write([RunSummary(name, rig, serial, utc_s)])

    def closed(self, name: str, utc_s: float, reason: str) -> None:
        """Note that a run closed. Raises sqlite3.Error."""
        with self._lock, self._base:
            self._base.execute("UPDATE runs SET closed_utc_s = ?, reason = ? WHERE name = ?", (utc_s, reason, name))

    def look_again(self, name: str) -> None:
        """A run was put aside or brought back: the catalogue follows its folder. Raises OSError."""
        try:
            if _is_run(self.folder / name):
                self._write([summary_of(self.folder / name)])
                return
            with self._lock, self._base:
                self._base.execute("DELETE FROM runs WHERE name = ?", (name,))
        except sqlite3.ProgrammingError:
            raise  # it was closed
        except sqlite3.Error as error:
            self._go_without(error)

    def runs(self) -> list[RunSummary]:
        """All runs, newest first. Raises OSError if the folders cannot be read where the catalogue cannot."""
        try:
            if self._empty:
                self._reconcile()
            self._take_received()
            return self._listed()
        except sqlite3.ProgrammingError:
            raise  # it was closed
        except sqlite3.Error as error:
            self._go_without(error)
            return self._listed()

    def left_open(self, rig: str) -> RunSummary | None:
        """The newest run of a rig, if it was not closed: the next start of the service continues it."""
        newest = self.newest(rig)
        return newest if newest is not None and newest.closed_utc_s is None else None

    def newest(self, rig: str) -> RunSummary | None:
        """The newest run of a rig; one that came from another PC is none of it."""
        return next((run for run in self.runs() if run.is_of(rig)), None)

    def _open(self) -> sqlite3.Connection:
        """The catalogue as it is, or an empty one in its place; a broken one is set aside, never deleted.

        One that another program holds, or that cannot be opened now, stays: until the next start it is in memory.
        """
        path = self.folder / CATALOGUE
        there = path.exists()
        try:
            base = _connected(path)
        except sqlite3.OperationalError as error:
            if error.sqlite_errorcode == sqlite3.SQLITE_ERROR:  # what is asked for is not in it
                return self._set_aside(path, error)
            self._say(f"the catalogue could not be opened ({error})")
            return _connected(_IN_MEMORY)
        except sqlite3.Error as error:
            return self._set_aside(path, error)
        self.remade = "" if there else "there was no catalogue"
        return base

    def _set_aside(self, path: Path, error: sqlite3.Error) -> sqlite3.Connection:
        self._say(f"the catalogue was broken ({error})")
        names = (path.with_suffix(f".broken-{number}") for number in range(1, _ATTEMPTS_MAX))
        aside = next((name for name in names if not name.exists()), None)
        if aside is None:
            return _connected(_IN_MEMORY)
        path.rename(aside)
        return _connected(path)

    def _go_without(self, error: sqlite3.Error) -> None:
        """The file stays as it is, for the next start; until then the catalogue is in memory."""
        with self._lock:
            self._base.close()
            self._base, self._empty = _connected(_IN_MEMORY), True
        self._say(f"the catalogue could not be used ({error})")
        self._reconcile()

    def _listed(self) -> list[RunSummary]:
        with self._lock:
            rows = self._base.execute(f"SELECT {_COLUMNS} FROM runs ORDER BY opened_utc_s DESC, name DESC").fetchall()
        return [replace(RunSummary(*row), received=bool(row[-1])) for row in rows]

    def _say(self, what: str) -> None:
        self.remade = what
        log.warning("%s: %s; it was made again from the folders of the runs", self.folder / CATALOGUE, what)

    def _reconcile(self) -> None:
        """Make the catalogue agree with the folders; asks a folder only where the catalogue does not know its end."""
        known = {run.name: run for run in self._listed()}
        there = {path.name: path for path in self.folder.iterdir() if _is_run(path)}
        gone = [(name,) for name in known if name not in there]
        with self._lock, self._base:
            self._base.executemany("DELETE FROM runs WHERE name = ?", gone)
        ended = {name for name, run in known.items() if run.closed_utc_s is not None}
        self._write([summary_of(path) for name, path in sorted(there.items()) if name not in ended])
        self._empty = False

    def _take_received(self) -> None:
        """Runs that `slipring receive` put beside the others since: whole ones, as they come by renaming."""
        changed_ns = self.folder.stat().st_mtime_ns
        if changed_ns == self._looked_at_ns:
            return
        known = {run.name for run in self._listed()}
        there = [path for path in self.folder.iterdir() if path.name not in known and _is_run(path)]
        self._write([summary_of(path) for path in there if (path / RECEIVED).exists()])
        is_old = time.time_ns() - changed_ns > _CLOCK_STEP_NS  # else another may come within the same step
        self._looked_at_ns = changed_ns if is_old else 0

    def _write(self, runs: list[RunSummary]) -> None:
        rows = [astuple(run) for run in runs]
        with self._lock, self._base:
            self._base.executemany(f"INSERT OR REPLACE INTO runs ({_COLUMNS}) VALUES (?, ?, ?, ?, ?, ?, ?)", rows)


def _connected(path: Path | str) -> sqlite3.Connection:
    base = sqlite3.connect(path, timeout=_BUSY_S, check_same_thread=False)
    try:
        if base.execute("PRAGMA quick_check").fetchone() != ("ok",):
            raise sqlite3.DatabaseError("its check failed")
        (version,) = base.execute("PRAGMA user_version").fetchone()
        if version not in (0, 1, _VERSION):
            raise sqlite3.DatabaseError(f"it is of version {version}")
        if version < _VERSION:
            with base:
                base.execute("DROP TABLE IF EXISTS runs")
                base.execute(_CREATE)
                base.execute(f"PRAGMA user_version = {_VERSION}")
        if base.execute("SELECT sql FROM sqlite_master WHERE name = 'runs'").fetchone() != (_CREATE,):
            raise sqlite3.DatabaseError("its table is another one")
        if base.execute(f"SELECT {_COLUMNS} FROM runs WHERE {_STRANGE} LIMIT 1").fetchone():
            raise sqlite3.DatabaseError("a row holds what no run has")
    except sqlite3.Error:
        base.close()
        raise
    return base


def _is_run(path: Path) -> bool:
    """A link to a folder is none: what it leads to is not ours, or is listed already."""
    return is_run_name(path.name) and path.is_dir() and not path.is_symlink()


def summary_of(run: Path, name: str = "") -> RunSummary:
    """What the folder itself says of a run, as far as it can be read. `name`: where its folder has another."""
    name = name or run.name
    rig, serial, opened_utc_s = name[14:], "", _minute(name)
    closed_utc_s, reason, received = None, "", (run / RECEIVED).exists()
    try:
        files = segments(run)
        first = [each.entry for each in first_entries(files[0], 2)] if files else []
        last = last_entry(run)
    except OSError:
        return RunSummary(name, rig, serial, opened_utc_s, received=received)
    for entry in first:
        said = _json(entry.text)
        if entry.kind is Kind.SEGMENT:
            rig = _text(said.get("rig", rig))
        elif entry.kind is Kind.OPEN:
            serial, opened_utc_s = _text(said.get("serial", "")), _time(entry.utc_s, opened_utc_s)
    if last is not None and last.entry.kind is Kind.CLOSE:
        closed_utc_s, reason = _time(last.entry.utc_s, opened_utc_s), last.entry.text
    return RunSummary(name, rig, serial, opened_utc_s, closed_utc_s, reason, received)


def _json(text: str) -> dict[str, object]:
    try:
        said = json.loads(text)
    except (ValueError, RecursionError):
        return {}
    return said if isinstance(said, dict) else {}


def _minute(name: str) -> float:
    """The minute in a run's name, UTC seconds; 0 for one that no calendar has."""
    try:
        return datetime.strptime(name[:13], "%Y%m%d-%H%M").replace(tzinfo=UTC).timestamp()
    except ValueError:
        return 0.0


def _text(said: object) -> str:
    """JSON can hold halves of characters, which no file takes."""
    return str(said).encode("utf-8", "replace").decode()


def _time(utc_s: float, instead: float) -> float:
    """A time that a calendar has; a record can hold any float64."""
    return utc_s if is_time(utc_s) else instead
