"""The SQLite file of a log: made, opened, checked, set aside, written and closed. One connection writes, in one thread.

It is in WAL mode while it is written, so that readers and the writer do not wait for one another, and every commit is
synced. Readers (reading.py) open it read only: they neither write nor move the WAL into the file.
"""

import os
import sqlite3
from collections.abc import Iterable, Mapping, Sequence
from contextlib import closing
from pathlib import Path
from typing import Any

from server.runs.log.blocks import BLOCK, Run, of_block, of_rows
from server.runs.log.sealed import unsealed
from server.runs.log.summary import Stretch, joined
from server.whole_file import sync_folder

LOG = "log.sqlite"
ASIDE = "log.aside-{}.sqlite"
VERSION = 2  # 1: without margins; it gets them when it is written on, and is read as it is
LEVEL_KEYS = 1 << 40  # the key of a summary or block: its level times this, and its number
BESIDE = ("-wal", "-shm", "-journal")
_ASIDE_MAX = 100
_PAGE_BYTES = 8192  # blocks are read in half as many pieces as with 4096, and a commit still writes little
_WORTH_A_BLOCK = BLOCK // 4  # of fewer stretches a block would be mostly empty
_BUSY_S = 2.0  # a reader that moves no WAL is never waited for; another program that looks may be
_WITH_IDS = "JOIN layouts ON layouts.number = layout"
_MOMENT = "number INTEGER PRIMARY KEY, utc_s REAL NOT NULL, board_s REAL NOT NULL"
TABLES = {
    "meta": "key TEXT PRIMARY KEY, value NOT NULL",
    "texts": "number INTEGER PRIMARY KEY, text TEXT NOT NULL",
    "layouts": "number INTEGER PRIMARY KEY, ids TEXT NOT NULL",
    "instants": f"{_MOMENT}, first_tick INTEGER NOT NULL, tick INTEGER NOT NULL, interval_s REAL NOT NULL,"
    " layout INTEGER NOT NULL, data BLOB NOT NULL",
    "events": f"{_MOMENT}, kind TEXT NOT NULL, record TEXT NOT NULL",
    "verdicts": f"{_MOMENT}, record TEXT NOT NULL",
    "states": f"{_MOMENT}, told_utc_s REAL NOT NULL, state TEXT NOT NULL",
    "marks": "number INTEGER PRIMARY KEY, utc_s REAL NOT NULL, kind TEXT NOT NULL, text TEXT NOT NULL",
    "summaries": "key INTEGER PRIMARY KEY, layout INTEGER NOT NULL, data BLOB NOT NULL",
    "blocks": "key INTEGER PRIMARY KEY, layout INTEGER NOT NULL, data BLOB NOT NULL",
}
_SCHEMA = [f"CREATE TABLE {name} ({columns})" for name, columns in TABLES.items()]
_SCHEMA.append("CREATE INDEX instants_by_time ON instants (utc_s)")
_MARGINS = (  # `number`: of the instant; `layout`, `lists`: of its lists, null where it has none
    "CREATE TABLE margins (number INTEGER PRIMARY KEY, utc_u95_s REAL, data BLOB NOT NULL, layout INTEGER, lists BLOB)"
)
_FIRST: Mapping[str, object] = {"begins": 0, "clean": 1, "closed": 0, "incomplete": "", "lost_instants": 0}


class OtherVersionError(sqlite3.DatabaseError):
    """The log is of a version that this program does not read: it stays as it is."""


class Store:
    """A log that is written. Raises sqlite3.Error and OSError; `close` it, whatever happened."""

    def __init__(self, path: Path) -> None:
        _make(path)
        self.path = path
        self._base = sqlite3.connect(path, timeout=_BUSY_S, isolation_level=None, check_same_thread=False)
        self._base.text_factory = _text
        try:
            _check(self._base, may_be_new=True, wholly=True)
            self._base.execute(f"PRAGMA page_size = {_PAGE_BYTES}")  # of a file that is new
            self._base.execute("PRAGMA journal_mode = WAL")
            self._base.execute("PRAGMA synchronous = FULL")
            if not self._base.execute("SELECT count(*) FROM sqlite_master").fetchone()[0]:
                self._create()
            elif self._version == 1:
                self._add_margins()
        except sqlite3.Error:
            self._base.close()
            raise

    def meta(self, key: str) -> Any:
        """None where it says nothing of that."""
        row = self._base.execute("SELECT value FROM meta WHERE key = ?", (key,)).fetchone()
        return None if row is None else row[0]

    def next_number(self, table: str) -> int:
        """Behind all that are in a table."""
        return 1 + int(self._base.execute(f"SELECT coalesce(max(number), -1) FROM {table}").fetchone()[0])

    def newest_utc_s(self) -> float | None:
        """When the last instant was."""
        return self._base.execute("SELECT max(utc_s) FROM instants").fetchone()[0]  # type: ignore[no-any-return]

    def stretches(self, level: int, first: int, behind: int) -> dict[int, Stretch]:
        """Stretches of a level by their number, `behind` excluded, as they lie in rows and blocks."""
        found: dict[int, Stretch] = {}
        for runs in (blocks_of(self._base, level, first, behind), rows_of(self._base, level, first, behind)):
            for run in runs:
                for number, stretch in run.stretches().items():
                    found[number] = joined((found[number], stretch)) if number in found else stretch
        return found

    def in_rows(self, level: int, first: int, behind: int) -> dict[int, Stretch]:
        """Those that lie in rows of their own."""
        runs = rows_of(self._base, level, first, behind)
        return {number: stretch for run in runs for number, stretch in run.stretches().items()}

    def unpacked(self) -> list[tuple[int, int]]:
        """Level and number of blocks that are not there, while enough of their stretches are."""
        which = f"key / {LEVEL_KEYS}, key % {LEVEL_KEYS} / {BLOCK}"
        sql = f"SELECT {which} FROM summaries GROUP BY {which} HAVING count(*) >= {_WORTH_A_BLOCK}"
        there = {divmod(key, LEVEL_KEYS) for (key,) in self._base.execute("SELECT key FROM blocks")}
        return [each for each in self._base.execute(sql).fetchall() if each not in there]

    def write(
        self,
        rows: Mapping[str, Sequence[tuple[Any, ...]]],
        meta: Mapping[str, object],
        drop: Iterable[tuple[int, int, int]] = (),
    ) -> None:
        """All of it, or nothing; it is synced when this returns. Summaries take the place of those that are there.

        `drop`: level, first and behind the last of summaries that are gone before.
        """
        self._base.execute("BEGIN IMMEDIATE")
        try:
            for level, first, behind in drop:
                keys = level * LEVEL_KEYS + first, level * LEVEL_KEYS + behind
                self._base.execute("DELETE FROM summaries WHERE key >= ? AND key < ?", keys)
            for table, its in rows.items():
                if its:
                    marks = ", ".join("?" * len(its[0]))
                    self._base.executemany(f"INSERT OR REPLACE INTO {table} VALUES ({marks})", its)
            self._base.executemany("INSERT OR REPLACE INTO meta VALUES (?, ?)", list(meta.items()))
            self._base.execute("COMMIT")
        except BaseException:
            if self._base.in_transaction:
                self._base.execute("ROLLBACK")
            raise

    def close(self) -> None:
        """One file that needs no other beside it, unless somebody reads it just now."""
        try:
            self._base.execute("PRAGMA wal_checkpoint(TRUNCATE)")
            self._base.execute("PRAGMA journal_mode = DELETE")
        except sqlite3.Error:
            pass  # it stays in WAL mode, which is as good
        finally:
            self._base.close()

    def _create(self) -> None:
        self._base.execute("BEGIN IMMEDIATE")
        for sql in (*_SCHEMA, _MARGINS):
            self._base.execute(sql)
        self._base.executemany("INSERT INTO meta VALUES (?, ?)", list(_FIRST.items()))
        self._base.execute(f"PRAGMA user_version = {VERSION}")
        self._base.execute("COMMIT")

    @property
    def _version(self) -> int:
        return int(self._base.execute("PRAGMA user_version").fetchone()[0])

    def _add_margins(self) -> None:
        self._base.execute("BEGIN IMMEDIATE")
        self._base.execute(_MARGINS)
        self._base.execute(f"PRAGMA user_version = {VERSION}")
        self._base.execute("COMMIT")


def blocks_of(base: sqlite3.Connection, level: int, first: int, behind: int) -> list[Run]:
    """Stretches of a level that lie in blocks, in their order. Raises ValueError where the bytes are none."""
    keys = level * LEVEL_KEYS + first // BLOCK, level * LEVEL_KEYS + -(-behind // BLOCK)
    sql = f"SELECT key, ids, data FROM blocks {_WITH_IDS} WHERE key >= ? AND key < ? ORDER BY key"
    return [
        of_block(key % LEVEL_KEYS * BLOCK, tuple(ids.split("\n")), unsealed(data, ids, key)).within(first, behind)
        for key, ids, data in base.execute(sql, keys)
    ]


def rows_of(base: sqlite3.Connection, level: int, first: int, behind: int) -> list[Run]:
    """Those that lie in rows of their own, together where their ids are the same. Raises ValueError likewise."""
    sql = f"SELECT key, ids, data FROM summaries {_WITH_IDS} WHERE key >= ? AND key < ? ORDER BY key"
    groups: dict[str, tuple[list[int], list[bytes | memoryview]]] = {}
    for key, ids, data in base.execute(sql, (level * LEVEL_KEYS + first, level * LEVEL_KEYS + behind)):
        numbers, rows = groups.setdefault(ids, ([], []))
        numbers.append(key % LEVEL_KEYS)
        rows.append(unsealed(data, ids, key))
    return [of_rows(numbers, tuple(ids.split("\n")), rows) for ids, (numbers, rows) in groups.items()]


def opened_to_read(path: Path, wholly: bool = False) -> sqlite3.Connection:
    """A connection that writes nothing. Raises OtherVersionError, and sqlite3.DatabaseError for what is no log or is
    broken; `wholly`: all its pages are looked at."""
    base = sqlite3.connect(f"{path.absolute().as_uri()}?mode=ro", uri=True, timeout=_BUSY_S)
    base.text_factory = _text
    try:
        _check(base, may_be_new=False, wholly=wholly)
    except sqlite3.Error:
        base.close()
        raise
    return base


def copy_log(path: Path, to: Path) -> None:
    """A new file of all that a log holds now, whoever writes it. Raises sqlite3.Error."""
    with closing(opened_to_read(path)) as base, closing(sqlite3.connect(to)) as copy:
        base.backup(copy)
        copy.execute("PRAGMA journal_mode = DELETE")


def _text(data: bytes) -> str:
    """A text of a file in which bits may have been flipped."""
    return data.decode("utf-8", "replace")


def _check(base: sqlite3.Connection, may_be_new: bool, wholly: bool) -> None:
    base.execute("PRAGMA trusted_schema = OFF")
    (version,) = base.execute("PRAGMA user_version").fetchone()
    there = [sql for (sql,) in base.execute("SELECT sql FROM sqlite_master WHERE sql IS NOT NULL ORDER BY rowid")]
    if may_be_new and version == 0 and not there:
        return
    if version not in (1, VERSION):
        raise OtherVersionError(f"the log is of version {version}, and this program reads version {VERSION}")
    if there != (_SCHEMA if version == 1 else [*_SCHEMA, _MARGINS]):
        raise sqlite3.DatabaseError("its tables are others")
    if wholly and (said := base.execute("PRAGMA quick_check(1)").fetchone()) != ("ok",):
        raise sqlite3.DatabaseError(f"its check failed ({said[0]})")


def set_aside(path: Path) -> Path:
    """Rename a log that cannot be used, and what SQLite keeps beside it; nothing is deleted. Raises OSError."""
    for number in range(1, _ASIDE_MAX):
        aside = path.with_name(ASIDE.format(number))
        if not os.path.lexists(aside):
            path.rename(aside)
            for ending in BESIDE:
                beside = path.with_name(path.name + ending)
                if beside.exists():
                    beside.rename(aside.with_name(aside.name + ending))
            sync_folder(path.parent)
            return aside
    raise FileExistsError(None, f"{_ASIDE_MAX} logs of this run were set aside already")


def _make(path: Path) -> None:
    """An empty file for its owner only, where there is none; never a folder. A link is not followed."""
    if path.is_symlink():
        raise OSError(None, f"{path} is a link, and what it leads to is none of ours")
    if not path.exists():
        os.close(os.open(path, os.O_RDWR | os.O_CREAT | os.O_EXCL, 0o600))
        sync_folder(path.parent)
