"""Entries of one rig -> segment files of its runs. Called by one thread; takes times and files as arguments.

A failed open, write or sync costs nothing that is still in memory: the file is left as it is and never used again, what
may not have reached the disk is written again into a new segment, and until that is synced the rest waits. Whatever
else goes wrong is shown and logged as a failure too, and tried again.
"""

import json
import logging
import sqlite3
from collections import deque
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from server.runs.layout import FORMAT, Entry, Kind, record, records
from server.runs.library import Library, summary_of
from server.runs.segments import OpenSegment, SegmentFile, last_entry, next_number, next_segment
from server.runs.space import least_free

log = logging.getLogger(__name__)

SYNC_EVERY_S = 1.0
UNSYNCED_BYTES_MAX = 4 << 20  # then it is synced earlier: so much is written again after a failure
RETRY_S = 1.0  # after a failure; twice as long after each further one,
RETRY_S_MAX = 5.0  # up to this
SEGMENT_BYTES_MAX = 64 << 20  # 3 min of the reference board; what is closed is packed
SEGMENT_S_MAX = 600.0  # of a slower board
DISK_CHECK_EVERY_S = 2.0
_MB = 1_000_000


@dataclass(frozen=True, slots=True)
class Writing:
    """How recording is. `state`: none, recording, failed or closed; `reason` says why it failed or closed.

    `gap_since_utc_s`: the newest entry that is certainly on the disk while recording fails. `gaps_s`: how long the
    service was away from a run that it took up again. `free_bytes`: where it fails as the disk is nearly full.
    `lost_utc_s`: where it fails, since when what comes is lost, as memory is full; None: all of it waits there.
    """

    state: str = "none"
    run: str = ""
    since_utc_s: float | None = None
    gap_since_utc_s: float | None = None
    reason: str = ""
    gaps_s: float = 0.0
    free_bytes: int | None = None
    lost_utc_s: float | None = None


class _ShortError(OSError):
    """The disk has less room than is left untouched."""

    def __init__(self, free: int, least: int) -> None:
        decimals = 0 if least >= 10 * _MB else 1  # on a small one both would be the same number
        figures = f"{free / _MB:.{decimals}f} MB are free on the disk, and {least / _MB:.{decimals}f} MB"
        super().__init__(None, f"only {figures} are left untouched")
        self.free = free


class Writer:
    """`free(folder)` gives free and total bytes of its disk; `continues` names a run that was left open.

    `opened` is told the folder of each run with the entry that opened it, None of the one that goes on.
    """

    def __init__(
        self,
        library: Library,
        rig: str,
        open_segment: OpenSegment,
        free: Callable[[Path], tuple[int, int]],
        continues: str | None = None,
        opened: Callable[[Entry | None, Path], object] = lambda opening, run: None,
    ) -> None:
        self.writing = Writing()
        self._opened = opened
        self._library, self._rig, self._open_segment, self._free = library, rig, open_segment, free
        self._continues = continues
        self._run: Path | None = None
        self._opening: Entry | None = None  # the entry that opened it
        self._closing: Entry | None = None  # the entry that closes it, written but perhaps not synced
        self._file: SegmentFile | None = None
        self._segment_bytes = 0
        self._segment_utc_s = 0.0  # of the first entry that was written to it
        self._number = 0  # of the next entry
        self._waiting: deque[Entry] = deque()
        self._unsynced: list[bytes] = []  # what stands in the file and no sync has confirmed
        self._unsynced_utc_s: float | None = None
        self._retry_s = RETRY_S
        self._sync_due_s = self._retry_due_s = self._disk_due_s = 0.0

    def run_opened_by(self, opening: Entry | None) -> str:
        """The folder of the open run that began with this entry (None: that was continued); empty: it is not open."""
        run = self._run
        return run.name if run is not None and self._opening is opening else ""

    @property
    def waiting_bytes(self) -> int:
        """Bytes in memory that no sync has confirmed."""
        return sum(len(entry.payload) for entry in self._waiting) + self._unsynced_bytes

    @property
    def _unsynced_bytes(self) -> int:
        return sum(map(len, self._unsynced))

    def step(self, arrived: list[Entry], now_s: float) -> None:
        """Take what arrived; write and sync what is due. `now_s`: any clock that does not run backwards."""
        self._waiting.extend(arrived)
        if now_s < self._retry_due_s:
            return
        try:
            self._check_disk(now_s)
            if self._unsynced and self.writing.state == "failed":
                self._sync()  # before more is written: else each attempt would write again all that waits
            while self._advance():
                pass
            if self._unsynced and (now_s >= self._sync_due_s or self.writing.state == "failed"):
                self._sync()
                self._sync_due_s = now_s + SYNC_EVERY_S
        except OSError as error:
            free = error.free if isinstance(error, _ShortError) else None
            self._fail(f"{error.strerror or error}", now_s, free)
        except Exception as error:  # ours, whatever it is: told and tried again, for nobody else writes what comes
            reason = f"the recorder failed ({type(error).__name__}: {error}); the log says where"
            if reason != self.writing.reason:
                log.exception("Recording of %s failed", self._rig)
            self._fail(reason, now_s)

    def finish(self, now_s: float) -> None:
        """The last call: everything is written and synced, as far as the disk lets it."""
        self._retry_due_s = self._sync_due_s = 0.0
        self.step([], now_s)
        self._drop_file()

    def _check_disk(self, now_s: float) -> None:
        if not (self._waiting or self._unsynced) or now_s < self._disk_due_s:
            return
        if self._file is not None and self._run is not None and not self._run.exists():
            raise OSError(None, f"the folder {self._run} was taken away")
        free, total = self._free(self._library.folder)
        least = least_free(total)
        if free < least:
            if self._unsynced and self._file is not None:
                self._sync()  # takes no room
            raise _ShortError(free, least)
        self._disk_due_s = now_s + DISK_CHECK_EVERY_S

    def _advance(self) -> bool:
        """Do the next thing there is to do; False if there is nothing. Raises OSError, and can then be called again."""
        if self._closing is not None:
            if self._unsynced:
                self._sync()
            self._close_run(self._closing)
            return True
        if not self._waiting:
            return False
        first = self._waiting[0]
        if first.kind is Kind.OPEN and first is not self._opening:
            self._open_run(first)
        elif self._run is None and not self._continue_run(first):
            self._waiting.popleft()  # nothing is open: it belongs to no run
            return True
        batch = self._batch()
        if batch:
            self._write(batch)
        else:
            self._sync()
        return True

    def _batch(self) -> list[Entry]:
        """The entries up to the end of this run, or all that wait; no more than may be unsynced, so perhaps none."""
        batch: list[Entry] = []
        size, chunk = self._unsynced_bytes, Kind.CHUNK
        for entry in self._waiting:
            size += len(entry.payload)
            other = entry.kind is not chunk  # next to none is: neither end of a run is looked for in the rest
            if (other and batch and entry.kind is Kind.OPEN) or (
                size > UNSYNCED_BYTES_MAX and (batch or self._unsynced)
            ):
                break
            batch.append(entry)
            if other and entry.kind is Kind.CLOSE:
                break
        return batch

    def _write(self, batch: list[Entry]) -> None:
        file = self._file or self._new_segment(batch[0].utc_s)
        data = records(self._number, batch)
        file.write(data)
        for _ in batch:
            self._waiting.popleft()
        self._number += len(batch)
        self._segment_bytes += len(data)
        self._unsynced.append(data)
        self._unsynced_utc_s = self._unsynced_utc_s or batch[0].utc_s
        if batch[-1].kind is Kind.CLOSE:
            self._closing = batch[-1]
        elif self._segment_bytes > SEGMENT_BYTES_MAX or batch[-1].utc_s - self._segment_utc_s > SEGMENT_S_MAX:
            self._sync()
            self._drop_file()
        elif self.writing.state == "failed":
            self._sync()

    def _new_segment(self, utc_s: float) -> SegmentFile:
        """A new file with its head, and again what no sync has confirmed in the one before."""
        assert self._run is not None
        if not self._run.exists():  # somebody has taken it away; what comes from now on is kept all the same
            self._run.mkdir(mode=0o700, parents=True)
        path = next_segment(self._run)
        file = self._open_segment(path)
        head = {"format": FORMAT, "run": self._run.name, "rig": self._rig, "segment": int(path.stem)}
        data = record(self._number, Entry(Kind.SEGMENT, 0.0, json.dumps(head).encode())) + b"".join(self._unsynced)
        self._file, self._segment_bytes, self._segment_utc_s = file, len(data), utc_s
        file.write(data)
        return file

    def _sync(self) -> None:
        if self._file is None:
            self._new_segment(self._unsynced_utc_s or 0.0)
        assert self._file is not None
        self._file.sync()
        self._unsynced.clear()
        self._unsynced_utc_s = None
        self._retry_s = RETRY_S
        if self.writing.state == "failed":
            self.writing = replace(self.writing, state="recording", reason="", gap_since_utc_s=None, free_bytes=None)

    def _fail(self, reason: str, now_s: float, free: int | None = None) -> None:
        self._drop_file()
        self._retry_due_s, self._retry_s = now_s + self._retry_s, min(2.0 * self._retry_s, RETRY_S_MAX)
        self._disk_due_s = 0.0
        oldest = self._waiting[0].utc_s if self._waiting else None
        since = self.writing.gap_since_utc_s or self._unsynced_utc_s or oldest
        self.writing = replace(self.writing, state="failed", reason=reason, gap_since_utc_s=since, free_bytes=free)

    def _drop_file(self) -> None:
        file, self._file = self._file, None
        if file is None:
            return
        try:
            file.close()
        except OSError:
            return  # what was not synced is written again; what was is safe

    def _open_run(self, first: Entry) -> None:
        if self._unsynced:
            self._sync()
        self._drop_file()
        said = json.loads(first.payload)
        self._run, self._opening = self._library.create(self._rig, first.utc_s), first
        self._number = 0
        self._opened(first, self._run)
        self.writing = Writing("recording", self._run.name, first.utc_s)
        self._catalogue(lambda library, run: library.opened(run, self._rig, str(said["serial"]), first.utc_s))

    def _continue_run(self, first: Entry) -> bool:
        """Take up the run that was left open when the service ended, with this entry; False if there is none."""
        if self._continues is None:
            return False
        run = self._library.folder / self._continues
        number, left = next_number(run), last_entry(run)
        self._run, self._continues, self._number = run, None, number
        self._opened(None, run)
        opened_utc_s = summary_of(run).opened_utc_s
        away_s = first.utc_s - left.entry.utc_s if left else 0.0  # a record can hold any float64
        gaps_s = min(max(0.0, away_s), max(0.0, first.utc_s - opened_utc_s))
        self.writing = Writing("recording", run.name, opened_utc_s, gaps_s=gaps_s)
        return True

    def _close_run(self, last: Entry) -> None:
        self._drop_file()
        self._catalogue(lambda library, run: library.closed(run, last.utc_s, last.text))
        self._run = self._opening = self._closing = None
        self.writing = Writing("closed", self.writing.run, last.utc_s, None, last.text, self.writing.gaps_s)

    def _catalogue(self, change: Callable[[Library, str], None]) -> None:
        """The catalogue can be made again from the folders; it never stops a recording."""
        assert self._run is not None
        try:
            change(self._library, self._run.name)
        except sqlite3.Error as error:
            self.writing = replace(
                self.writing, reason=f"the catalogue was not written ({error}); it is made again at the next start"
            )
