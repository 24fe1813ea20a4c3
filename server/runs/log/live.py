"""The thread that writes the log of one rig's runs. It never holds up anybody: what it cannot take in time is left out.

Recording outranks it. Instants beyond what waits at most are dropped whole and counted, a disk that takes nothing stops
the log and not the recorder, and a log with something missing is made again from the segments when its run has closed.
"""

import logging
import sqlite3
import threading
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass
from itertools import takewhile
from pathlib import Path
from time import monotonic

from server.pipeline import Output
from server.runs.layout import Entry, Kind
from server.runs.log.dated import Dated, add_dated, line_of
from server.runs.log.scribe import Scribe
from server.runs.log.store import LOG, OtherVersionError, Store, set_aside
from server.runs.log.taken import Taken, taken
from server.whole_file import free_and_total

log = logging.getLogger(__name__)

WRITE_EVERY_S = 1.0  # one commit, and so one sync, for all that came
READINGS_MAX = 30_000  # that wait: a minute and more of the reference board, some 30 MB
OTHERS_MAX = 10_000  # entries without readings that wait
RETRY_S = 5.0  # after the disk took nothing
FREE_BYTES_MIN = 100_000_000  # below, the log stops,
FREE_SHARE_MIN = 0.01  # or below this share of a small disk: later than the samples
STOP_S = 4.0
_TOO_FAST = "instants came faster than the disk took them"


@dataclass(frozen=True, slots=True)
class Logging:
    """How the log is: `run` that it is of, empty where there is none; `reason`: why it stopped, or empty; `lost`:
    instants that are not in the log of this run."""

    run: str = ""
    reason: str = ""
    lost: int = 0


class LiveLog:
    """Of one rig. `take` and `keep` from one thread, `opened` from the recorder's; `start` it once, `stop` it once."""

    def __init__(self, rig: str, free: Callable[[Path], tuple[int, int]] = free_and_total) -> None:
        self.logging = Logging()
        self._rig, self._free = rig, free
        self._lock = threading.Lock()
        self._waiting: deque[Taken | Dated] = deque()
        self._readings = self._dropped = 0
        self._folders: list[tuple[Entry | None, Path]] = []  # of runs that opened, with the entry that did it
        self._opening: Entry | None = None  # of the run that the next one belongs to
        self._run: Path | None = None
        self._refused = False  # nothing more is logged of this run
        self._store: Store | None = None
        self._scribe: Scribe | None = None
        self._unwritten = 0  # instants that the scribe holds
        self._missing = 0, ""  # instants that the log does not hold and does not know of yet, and why
        self._retry_due_s = 0.0
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._work, name=f"log {rig}", daemon=True)

    def start(self) -> None:
        self._thread.start()

    def stop(self) -> None:
        """Write what is there and end the thread. Blocks, at most STOP_S."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(STOP_S)

    def opened(self, opening: Entry | None, run: Path) -> None:
        """The run that begins with this entry has this folder; None: the one that goes on."""
        with self._lock:
            self._folders.append((opening, run))

    def take(self, entry: Entry, output: Output | None, motor_type: str) -> None:
        """An entry that is recorded, and what came of it."""
        found = taken(entry, output, motor_type)
        if found is not None:
            self.put(found)

    def put(self, found: Taken) -> None:
        """The same, taken already."""
        with self._lock:
            if found.instants and self._readings + found.readings > READINGS_MAX:
                self._dropped += found.instants
                found = found.without_instants()
            if len(self._waiting) < OTHERS_MAX:
                self._waiting.append(found)
                self._readings += found.readings
            else:
                self._dropped += max(1, found.instants)

    def keep(self, entry: Dated) -> bool:
        """A dated entry of the run that is open now; False where there is no room for it. Raises as `line_of` does."""
        line_of(entry)
        with self._lock:
            if len(self._waiting) >= OTHERS_MAX:
                return False
            self._waiting.append(entry)
            return True

    def _work(self) -> None:
        while not self._stopping.wait(WRITE_EVERY_S):
            self.step(monotonic())
        self._retry_due_s = 0.0
        self.step(monotonic())
        self._leave(ended=True)

    def step(self, now_s: float) -> None:
        """Write all that waits, as far as the disk takes it. `now_s`: any clock that does not run backwards."""
        try:
            self._keep_dated()
            if now_s < self._retry_due_s:
                return
            while self._advance():
                pass
            if self._scribe is not None:
                self._check_disk()
                self._write(self._scribe, ended=False)
        except OtherVersionError as error:
            self._fail(str(error), now_s)
            self._refused = True
        except sqlite3.OperationalError as error:
            self._fail(f"the log could not be written ({error})", now_s)
        except sqlite3.DatabaseError as error:
            self._fail(f"the log was broken ({error})", now_s)
            self._set_aside()
        except OSError as error:
            self._fail(f"the log could not be written ({error.strerror or error})", now_s)
        except Exception as error:  # ours, whatever it is: the recorder and the next run go on
            log.exception("The log of %s failed", self._rig)
            self._fail(f"the log failed ({type(error).__name__}: {error})", now_s)

    def _advance(self) -> bool:
        """Do the next thing that waits; False where there is none, or where its run has no folder yet."""
        with self._lock:
            its = self._waiting[0] if self._waiting else None
        if its is None:
            return False
        if (opens := self._opened_by(its)) is not None:
            self._leave(ended=True)
            self._opening, self._run, self._refused = opens, None, False
        if self._run is None and not self._found_folder():
            return False
        if isinstance(its, Dated):
            self._keep_dated()
            return True
        if self._scribe is None and not self._refused:
            self._open()
        with self._lock:
            self._waiting.popleft()
            self._readings -= its.readings
        if self._scribe is not None:
            self._unwritten += its.instants
            self._scribe.take(its)
            if its.entry is not None and its.entry.kind is Kind.CLOSE:
                self._leave(ended=True)
                self._refused = True  # nothing follows
        return True

    def _opened_by(self, its: Taken | Dated) -> Entry | None:
        """The entry that opens another run than that at hand."""
        entry = its.entry if isinstance(its, Taken) else None
        return entry if entry is not None and entry.kind is Kind.OPEN and entry is not self._opening else None

    def _keep_dated(self) -> None:
        """Alarms and notes of the run at hand, before all that waits for the log. Raises OSError."""
        if self._run is None and not self._found_folder():
            return
        while (entry := self._next_dated()) is not None:
            self._add(entry)
            with self._lock:
                self._waiting.remove(entry)

    def _next_dated(self) -> Dated | None:
        with self._lock:
            its = takewhile(lambda each: self._opened_by(each) is None, self._waiting)
            return next((each for each in its if isinstance(each, Dated)), None)

    def _add(self, entry: Dated) -> None:
        assert self._run is not None
        try:
            add_dated(self._run, entry)
        except ValueError as error:
            log.warning("%s: an entry of %s could not be kept: %s", self._rig, self._run.name, error)

    def _found_folder(self) -> bool:
        with self._lock:
            at = next((k for k, (opening, _) in enumerate(self._folders) if opening is self._opening), None)
            if at is None:
                return False
            self._run = self._folders[at][1]
            del self._folders[: at + 1]
            return True

    def _open(self) -> None:
        assert self._run is not None
        path = self._run / LOG
        goes_on, was_there = self._opening is None, path.exists()
        self._check_disk()
        self._store = Store(path)
        self._scribe = Scribe(self._store)
        self.logging = Logging(self._run.name, "", int(self._store.meta("lost_instants")))
        if not self._store.meta("clean"):
            self._scribe.lost(0, "the service ended before the log was closed")
        elif goes_on and not was_there:
            self._scribe.lost(0, "the log was begun in the middle of the run")

    def _write(self, scribe: Scribe, ended: bool) -> None:
        """All that it holds, and what it does not. `ended`: also what is open in it."""
        with self._lock:
            dropped, self._dropped = self._dropped, 0
        missing, why = self._missing
        self._missing = missing + dropped, why or (_TOO_FAST if dropped else "")  # until it is written
        if self._missing[1]:
            scribe.lost(*self._missing)
        if ended:
            scribe.end()
        else:
            scribe.write()
        self._unwritten, self._missing = 0, (0, "")
        self.logging = Logging(self.logging.run, "", scribe.lost_instants)

    def _check_disk(self) -> None:
        assert self._run is not None
        free, total = self._free(self._run)  # raises OSError where the folder was taken away
        least = min(FREE_BYTES_MIN, int(FREE_SHARE_MIN * total))
        if free < least:
            raise OSError(None, f"less than the {least / 1e6:.0f} MB that are left untouched are free on the disk")

    def _fail(self, reason: str, now_s: float) -> None:
        if reason != self.logging.reason:
            log.warning("%s: %s; the recording goes on", self._rig, reason)
        missing = self._missing[0] + self._unwritten
        self._unwritten, self._missing = 0, (missing, reason)
        self.logging = Logging("" if self._run is None else self._run.name, reason, self.logging.lost)
        self._retry_due_s = now_s + RETRY_S
        self._leave(ended=False)

    def _leave(self, ended: bool) -> None:
        """Close the file. `ended`: what is open in it is told."""
        scribe, store = self._scribe, self._store
        self._scribe = self._store = None
        if store is None:
            return
        try:
            if ended and scribe is not None:
                self._write(scribe, ended=True)
        except sqlite3.Error as error:
            log.warning("%s: the log could not be closed (%s); it is made again", self._rig, error)
            self._unwritten, self._missing = 0, (0, "")
        finally:
            store.close()

    def _set_aside(self) -> None:
        assert self._run is not None
        try:
            aside = set_aside(self._run / LOG)
            log.warning("%s: the broken log was set aside as %s", self._rig, aside)
        except OSError as error:
            log.warning("%s: the broken log could not be set aside (%s)", self._rig, error.strerror or error)
            self._refused = True
