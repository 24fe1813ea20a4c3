"""What waits for receivers, on disk until each of them has it: SQLite, one connection, each change synced.

A number is fixed when a draft comes in and is never given again; numbers of another origin are those of another
outbox. Where there is no room (bytes or age) the oldest of the lowest rank go first; of alarms none goes by age.
"""

import contextlib
import json
import secrets
import sqlite3
from collections.abc import Callable, Iterator, Mapping, Sequence
from dataclasses import dataclass
from pathlib import Path
from threading import Lock
from typing import Any

from server.notify.draft import Draft, Rank, Word, dropped
from server.notify.folding import Record, folded

BYTES_MAX = 1_000_000_000  # some hundred thousand messages
AGE_MAX_S = 7 * 86_400.0
HELD_MAX = 10_000  # words that are held until later; more are told at once rather than lost
_OVERHEAD = 300  # bytes that an entry takes beside its text, rounded up
_TABLES = """
CREATE TABLE IF NOT EXISTS about (key TEXT PRIMARY KEY, value TEXT NOT NULL) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS entry (
    number INTEGER PRIMARY KEY AUTOINCREMENT, made_utc_s REAL NOT NULL, rank INTEGER NOT NULL, text TEXT NOT NULL);
CREATE INDEX IF NOT EXISTS by_rank ON entry (rank, number);
CREATE TABLE IF NOT EXISTS receiver (
    name TEXT PRIMARY KEY, everything INTEGER NOT NULL DEFAULT 0, has INTEGER NOT NULL DEFAULT 0,
    dropped INTEGER NOT NULL DEFAULT 0, first_utc_s REAL, last_utc_s REAL) WITHOUT ROWID;
CREATE TABLE IF NOT EXISTS waiting (
    receiver TEXT NOT NULL, number INTEGER NOT NULL, PRIMARY KEY (receiver, number)) WITHOUT ROWID;
CREATE INDEX IF NOT EXISTS by_number ON waiting (number);
CREATE TABLE IF NOT EXISTS held (
    place INTEGER PRIMARY KEY, not_before_utc_s REAL NOT NULL, rank INTEGER NOT NULL, text TEXT NOT NULL,
    receivers TEXT NOT NULL);
"""
_SIZE = f"LENGTH(text) + {_OVERHEAD}"


class OutboxError(Exception):
    """The outbox cannot be read or written; why, in a few words. `damaged`: what stands in the file is to blame."""

    def __init__(self, why: str, damaged: bool = False) -> None:
        super().__init__(why)
        self.damaged = damaged


@dataclass(frozen=True, slots=True)
class Waiting:
    """An entry that a receiver does not have yet. `after`: the number of the last one before it for this receiver."""

    number: int
    after: int
    made_utc_s: float
    record: dict[str, Any]


@dataclass(frozen=True, slots=True)
class Queue:
    """How much waits for a receiver, since when, and how many were given up and are not told yet."""

    count: int
    oldest_utc_s: float | None
    dropped: int


class Outbox:
    """`path` None: in memory only. All methods may be called by any thread. Raises OutboxError, everywhere."""

    def __init__(self, path: Path | None, bytes_max: int = BYTES_MAX, age_max_s: float = AGE_MAX_S) -> None:
        self.is_on_disk = path is not None
        self._bytes_max, self._age_max_s = bytes_max, age_max_s
        self._lock = Lock()
        try:
            self._db = sqlite3.connect(path or ":memory:", check_same_thread=False, isolation_level=None, timeout=1.0)
        except sqlite3.Error as error:
            raise OutboxError(str(error)) from error
        try:
            if path is not None:
                path.chmod(0o600)
            self._db.execute("PRAGMA journal_mode = WAL")
            self._db.execute("PRAGMA synchronous = FULL")
            self._db.executescript(_TABLES)
            if self._db.execute("PRAGMA quick_check(1)").fetchone() != ("ok",):
                raise sqlite3.DatabaseError("it is damaged")
            self.origin = self._about("origin") or self._set("origin", secrets.token_hex(8))
            self._bytes: int = self._one(f"SELECT COALESCE(SUM({_SIZE}), 0) FROM entry")
        except (sqlite3.Error, OSError) as error:
            self._db.close()
            raise OutboxError(str(error), damaged=type(error) is sqlite3.DatabaseError) from error

    def close(self) -> None:
        with self._lock:
            self._db.close()

    def about(self, key: str) -> str:
        """A word that is kept in the outbox; empty if there is none."""
        with self._transaction():
            return self._about(key)

    def say(self, key: str, value: str) -> None:
        """Keep a word."""
        with self._transaction():
            self._set(key, value)

    def receivers(self) -> dict[str, bool]:
        """Those that entries are kept for, and whether they get everything."""
        with self._transaction():
            found = self._db.execute("SELECT name, everything FROM receiver ORDER BY name")
            return {name: bool(everything) for name, everything in found}

    def keep_for(self, receivers: Mapping[str, bool]) -> None:
        """From now on entries are kept for these; what waits for others is given up. Names, and who gets everything."""
        wanted = set(receivers)
        with self._transaction():
            known = {name for (name,) in self._db.execute("SELECT name FROM receiver")}
            for name in known - wanted:
                self._db.execute("DELETE FROM receiver WHERE name = ?", (name,))
                self._take_off(name, self._all("SELECT number FROM waiting WHERE receiver = ?", name))
            self._db.executemany("INSERT INTO receiver (name) VALUES (?)", [(name,) for name in sorted(wanted - known)])
            said = [(int(everything), name) for name, everything in receivers.items()]
            self._db.executemany("UPDATE receiver SET everything = ? WHERE name = ?", said)

    def add(self, words: Sequence[Word], utc_s: float) -> None:
        """Number words in this order and keep each for its receivers; synced when it returns."""
        with self._transaction():
            held = self._one("SELECT COUNT(*) FROM held")
            for word in words:
                if (word.not_before_utc_s or 0.0) > utc_s and held < HELD_MAX:
                    self._hold(word)
                    held += 1
                else:
                    self._add(word.draft.rank, _text(word.draft), word.to, utc_s)
            self._make_room(utc_s)

    def tend(self, utc_s: float, now: Callable[[], Mapping[str, Record]] = dict) -> bool:
        """Let go what is held no longer, folded, and give up what has grown too old. Whether something new waits.
        `now`: how alarms stand, by their id."""
        with self._transaction():
            due = self._db.execute(
                "SELECT rank, text, receivers, place FROM held WHERE not_before_utc_s <= ? ORDER BY place", (utc_s,)
            ).fetchall()
            held = [(receivers, json.loads(text)) for _, text, receivers, _ in due]
            told = folded(held, now() if due else {}, utc_s)
            for (rank, _, receivers, place), record in zip(due, told, strict=True):
                if record is not None:
                    self._add(rank, json.dumps(record), json.loads(receivers), utc_s)
                self._db.execute("DELETE FROM held WHERE place = ?", (place,))
            self._make_room(utc_s)
            return bool(due)

    def waiting(self, receiver: str, at_most: int, above: int = 0) -> list[Waiting]:
        """The next entries for this receiver, in order. `above`: it has all up to there, noted here or not."""
        with self._transaction():
            after = max(self._one("SELECT has FROM receiver WHERE name = ?", receiver) or 0, above)
            found = []
            for number, made_utc_s, text in self._db.execute(
                "SELECT number, made_utc_s, text FROM waiting JOIN entry USING (number)"
                " WHERE receiver = ? AND number > ? ORDER BY number LIMIT ?",
                (receiver, above, at_most),
            ):
                found.append(Waiting(number, after, made_utc_s, json.loads(text)))
                after = number
            return found

    def took(self, receiver: str, number: int) -> None:
        """The receiver has this entry, and not yet all before it."""
        with self._transaction():
            self._take_off(receiver, [number])

    def give_up(self, receiver: str, number: int) -> None:
        """The receiver will not have this entry; it is counted, and told with what arrives next."""
        with self._transaction():
            self._count_out(number, receiver)
            self._take_off(receiver, [number])

    def has(self, receiver: str, number: int, utc_s: float) -> None:
        """The receiver has all entries up to this number. Less than it had before: its own store was set back."""
        with self._transaction():
            self._db.execute("UPDATE receiver SET has = ? WHERE name = ?", (number, receiver))
            there = self._all("SELECT number FROM waiting WHERE receiver = ? AND number <= ?", receiver, number)
            self._take_off(receiver, there)
            given_up = self._db.execute(
                "SELECT dropped, first_utc_s, last_utc_s FROM receiver WHERE name = ? AND dropped > 0", (receiver,)
            ).fetchone()
            if given_up is not None:
                self._db.execute("UPDATE receiver SET dropped = 0 WHERE name = ?", (receiver,))
                told = dropped(utc_s, *given_up)
                self._add(told.rank, _text(told), [receiver], utc_s)

    def was_set_back(self, number: int) -> bool:
        """Whether a receiver has a number that was never given: an old copy of the outbox was put in its place.

        What waits then counts as of another origin, or the receiver would take it for what it has already.
        """
        with self._transaction():
            if number <= (self._one("SELECT seq FROM sqlite_sequence WHERE name = 'entry'") or 0):
                return False
            self.origin = self._set("origin", secrets.token_hex(8))
            self._db.execute("UPDATE receiver SET has = 0")
            return True

    def queue(self, receiver: str) -> Queue:
        with self._transaction():
            count = self._one("SELECT COUNT(*) FROM waiting WHERE receiver = ?", receiver)
            given_up = self._one("SELECT dropped FROM receiver WHERE name = ?", receiver) or 0
            oldest = self._one(
                "SELECT made_utc_s FROM waiting JOIN entry USING (number) WHERE receiver = ? ORDER BY number", receiver
            )
            return Queue(count, oldest, given_up)

    @contextlib.contextmanager
    def _transaction(self) -> Iterator[None]:
        """All of it or nothing, by one thread at a time."""
        with self._lock:
            before = self._bytes
            try:
                self._db.execute("BEGIN")
                yield
                self._db.execute("COMMIT")
            except BaseException as error:
                self._bytes = before
                with contextlib.suppress(sqlite3.Error):
                    self._db.execute("ROLLBACK")
                if isinstance(error, sqlite3.Error):
                    raise OutboxError(str(error)) from error
                raise

    def _hold(self, word: Word) -> None:
        values = (word.not_before_utc_s, int(word.draft.rank), _text(word.draft), json.dumps(word.to))
        self._db.execute("INSERT INTO held (not_before_utc_s, rank, text, receivers) VALUES (?, ?, ?, ?)", values)

    def _add(self, rank: int, text: str, to: Sequence[str] | None, utc_s: float) -> None:
        names = [name for (name,) in self._db.execute("SELECT name FROM receiver")]
        meant = [name for name in names if to is None or name in to]
        if not meant:
            return
        number = self._db.execute(
            "INSERT INTO entry (made_utc_s, rank, text) VALUES (?, ?, ?)", (utc_s, int(rank), text)
        ).lastrowid
        self._db.executemany("INSERT INTO waiting VALUES (?, ?)", [(name, number) for name in meant])
        self._bytes += len(text) + _OVERHEAD  # json writes ASCII: as many bytes as characters

    def _make_room(self, utc_s: float) -> None:
        old = (utc_s - self._age_max_s, int(Rank.ALARM))
        while found := self._all("SELECT number FROM entry WHERE made_utc_s < ? AND rank < ? LIMIT 200", *old):
            self._give_up(found)
        while self._bytes > self._bytes_max:
            lowest = self._all("SELECT number FROM entry ORDER BY rank, number LIMIT 1")
            if not lowest:
                break
            self._give_up(lowest)

    def _give_up(self, numbers: Sequence[int]) -> None:
        for number in numbers:
            for (receiver,) in self._db.execute("SELECT receiver FROM waiting WHERE number = ?", (number,)).fetchall():
                self._count_out(number, receiver)
                self._take_off(receiver, [number])

    def _count_out(self, number: int, receiver: str) -> None:
        self._db.execute(
            "UPDATE receiver SET dropped = dropped + 1,"
            " first_utc_s = MIN(IIF(dropped, first_utc_s, made_utc_s), made_utc_s),"
            " last_utc_s = MAX(IIF(dropped, last_utc_s, made_utc_s), made_utc_s)"
            " FROM entry JOIN waiting USING (number) WHERE number = ? AND receiver = ? AND receiver = name",
            (number, receiver),
        )

    def _take_off(self, receiver: str, numbers: Sequence[int]) -> None:
        """The receiver waits for these no more; what nobody waits for is deleted, its number not given again."""
        for number in numbers:
            self._db.execute("DELETE FROM waiting WHERE receiver = ? AND number = ?", (receiver, number))
            if not self._all("SELECT 1 FROM waiting WHERE number = ? LIMIT 1", number):
                self._bytes -= self._one(f"SELECT {_SIZE} FROM entry WHERE number = ?", number)
                self._db.execute("DELETE FROM entry WHERE number = ?", (number,))

    def _about(self, key: str) -> str:
        return self._one("SELECT value FROM about WHERE key = ?", key) or ""

    def _set(self, key: str, value: str) -> str:
        self._db.execute("INSERT OR REPLACE INTO about VALUES (?, ?)", (key, value))
        return value

    def _one(self, question: str, *values: object) -> Any:
        found = self._db.execute(question, values).fetchone()
        return None if found is None else found[0]

    def _all(self, question: str, *values: object) -> list[int]:
        return [number for (number,) in self._db.execute(question, values)]


def _text(draft: Draft) -> str:
    return json.dumps(draft.whole)
