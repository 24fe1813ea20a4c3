"""The thread that writes one rig's runs. The event loop only hands entries over and never waits for the disk."""

import threading
from collections.abc import Callable
from dataclasses import replace
from datetime import UTC, datetime
from pathlib import Path
from time import monotonic

from server.runs.layout import Entry, Kind
from server.runs.library import Library
from server.runs.marks import NOT_TAKEN
from server.runs.segments import OpenSegment, open_segment
from server.runs.writer import Writer, Writing
from server.whole_file import free_and_total

WRITE_EVERY_S = 0.1  # entries are gathered so long: one write for all of them
WAITING_BYTES_MAX = 64 << 20  # of payloads, in memory while the disk does not take them: 3 min of the reference board
KNOWN_S = 2.0  # of what waits: from then on it is told for about how long there is room
STOP_S = 4.0  # a disk that does not answer does not keep the service from ending


class Recorder:
    """`put` entries from one thread; `writing` says how it goes. `start` it once, `stop` it once."""

    def __init__(
        self,
        library: Library,
        rig: str,
        continues: str | None = None,
        open_segment: OpenSegment = open_segment,
        opened: Callable[[Entry | None, Path], object] = lambda opening, run: None,
    ) -> None:
        self._writer = Writer(library, rig, open_segment, free_and_total, continues, opened)
        self._lock = threading.Lock()
        self._arrived: list[Entry] = []
        self._bytes = 0  # of what arrived and what waits in the writer
        self._opening: Entry | None = None  # the newest that opens a run
        self._lost = 0  # chunks that did not fit since the last one that did
        self._lost_utc_s: float | None = None  # since when some did not, until the disk takes all again
        self._newest_utc_s = 0.0
        self._stopping = threading.Event()
        self._thread = threading.Thread(target=self._work, name=f"recorder {rig}", daemon=True)

    @property
    def writing(self) -> Writing:
        """Where it fails, with what becomes of what comes meanwhile."""
        its = self._writer.writing
        if its.state != "failed":
            if self._lost_utc_s is None:
                return its
            its = replace(its, state="failed", reason="the disk does not answer")  # a write or a sync hangs
        with self._lock:
            waits_s = self._newest_utc_s - (its.gap_since_utc_s or self._newest_utc_s)
            lost_utc_s, held = self._lost_utc_s, waiting_words(self._bytes, waits_s, self._lost_utc_s)
        return replace(its, reason=f"{its.reason}; {held}", lost_utc_s=lost_utc_s)

    @property
    def run(self) -> str:
        """The run that the entries put now go to; empty while its folder is not made, and where there is none."""
        return self._writer.run_opened_by(self._opening)

    def start(self) -> None:
        self._thread.start()

    def put(self, entry: Entry) -> list[Entry]:
        """Hand an entry over; what the run has of it. While the disk takes nothing, chunks beyond a limit are dropped,
        and the run says so."""
        with self._lock:
            if entry.kind is Kind.CHUNK and self._bytes + len(entry.payload) > WAITING_BYTES_MAX:
                self._lost += 1
                self._lost_utc_s = self._lost_utc_s or entry.utc_s
                return []
            put = [entry]
            if self._lost:
                text = f"{NOT_TAKEN}: {self._lost} chunks of bytes did not fit in memory and are lost"
                put.insert(0, Entry(Kind.MARK, entry.utc_s, text.encode()))
                self._lost = 0
            if entry.kind is Kind.OPEN:
                self._opening = entry
            self._arrived += put
            self._bytes += len(entry.payload)
            self._newest_utc_s = max(self._newest_utc_s, entry.utc_s)
            return put

    def stop(self) -> None:
        """Write and sync what is there and end the thread. Blocks, at most STOP_S."""
        self._stopping.set()
        if self._thread.is_alive():
            self._thread.join(STOP_S)

    def _work(self) -> None:
        while not self._stopping.wait(WRITE_EVERY_S):
            self._step()
        self._step()
        self._writer.finish(monotonic())

    def _step(self) -> None:
        with self._lock:
            arrived, self._arrived = self._arrived, []
        self._writer.step(arrived, monotonic())
        with self._lock:
            self._bytes = self._writer.waiting_bytes + sum(len(entry.payload) for entry in self._arrived)
            if self._writer.writing.state != "failed" and self._bytes < WAITING_BYTES_MAX // 2:
                self._lost_utc_s = None


def waiting_words(size: int, waits_s: float, lost_utc_s: float | None) -> str:
    """What becomes of samples while the disk takes none: `size` bytes of `waits_s` seconds wait in memory; since
    `lost_utc_s` (UTC seconds) what comes is lost, None: nothing is."""
    if lost_utc_s is not None:
        return f"memory is full: samples since {datetime.fromtimestamp(lost_utc_s, UTC).astimezone():%H:%M:%S} are lost"
    if waits_s < KNOWN_S or not size:
        return "samples wait in memory"
    room_s = WAITING_BYTES_MAX / size * waits_s
    about = f"{room_s:.0f} s" if room_s < 100.0 else f"{room_s / 60.0:.0f} min"
    return f"samples wait in memory, about {about} of them at most"
