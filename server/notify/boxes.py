"""The outbox of the service: on disk, and one in memory that stands in while the disk refuses.

An alarm goes out even then; what is in memory alone is lost when the service ends, and that is said.
"""

import contextlib
import logging
import os
import time
from collections.abc import Callable, Mapping, Sequence
from functools import partial
from pathlib import Path

from server.notify.draft import Word
from server.notify.folding import Record
from server.notify.outbox import Outbox, OutboxError, Queue, Waiting

IN_MEMORY_BYTES_MAX = 20_000_000  # ten thousand messages
AGAIN_S = 10.0  # so often an outbox is tried that could not be opened

log = logging.getLogger(__name__)


class Boxes:
    """All methods may be called by any thread; none raises."""

    def __init__(self, path: Path) -> None:
        self._path = path
        self._memory = Outbox(None, IN_MEMORY_BYTES_MAX)
        self._disk: Outbox | None = None
        self._receivers: Mapping[str, bool] | None = None  # that were told; None: those of before stay
        self.trouble = ""  # why messages are in memory only
        self._tried_s = 0.0
        self._open()

    @property
    def origin(self) -> str:
        """Of the outbox on disk, or of the one that stands in for it."""
        return (self._disk or self._memory).origin

    def receivers(self) -> dict[str, bool]:
        """Those that entries are kept for, and whether they get everything."""
        with contextlib.suppress(OutboxError):
            return (self._disk or self._memory).receivers()
        return self._memory.receivers()

    def keep_for(self, receivers: Mapping[str, bool]) -> None:
        """From now on entries are kept for these."""
        self._receivers = receivers
        for box in self._both():
            self._try(partial(box.keep_for, receivers))

    def add(self, words: Sequence[Word], utc_s: float) -> None:
        """Number them and keep them. In memory as long as older ones are there: their order holds."""
        if self._disk is not None and self._is_empty(self._memory):
            try:
                self._disk.add(words, utc_s)
                self.trouble = ""
                return
            except OutboxError as error:
                self._troubled(f"{self._path} cannot be written ({error})")
        self._try(partial(self._memory.add, words, utc_s))

    def tend(self, utc_s: float, now: Callable[[], Mapping[str, Record]] = dict) -> bool:
        """Let go what is held no longer, give up what is too old. Whether something new waits. `now`: as an outbox has
        it."""
        new = False
        if self._disk is None and time.monotonic() - self._tried_s >= AGAIN_S:
            self._open_again()
        for box in self._both():
            with contextlib.suppress(OutboxError):
                new |= box.tend(utc_s, now)
        return new

    def next(self, receiver: str, at_most: int, has: Mapping[str, int]) -> tuple[Outbox, list[Waiting]]:
        """What a receiver gets next, from one of the two. `has`: up to which number of an origin it has all."""
        for box in self._both():
            with contextlib.suppress(OutboxError):
                if found := box.waiting(receiver, at_most, has.get(box.origin, 0)):
                    return box, found
        return self._memory, []

    def queue(self, receiver: str) -> Queue:
        """Of both together."""
        queues = []
        for box in self._both():
            with contextlib.suppress(OutboxError):
                queues.append(box.queue(receiver))
        oldest = [queue.oldest_utc_s for queue in queues if queue.oldest_utc_s is not None]
        return Queue(sum(q.count for q in queues), min(oldest, default=None), sum(q.dropped for q in queues))

    def begins(self) -> bool:
        """The service has started. Whether the one before it had ended in order, or there was none."""
        with contextlib.suppress(OutboxError):
            if self._disk is not None:
                before = self._disk.about("running")
                self._disk.say("running", "yes")
                return before != "yes"
        return True

    def ends(self) -> None:
        """The service stops in order."""
        if self._disk is not None:
            with contextlib.suppress(OutboxError):
                self._disk.say("running", "no")

    def close(self) -> None:
        for box in self._both():
            box.close()

    def _both(self) -> list[Outbox]:
        return [self._memory] if self._disk is None else [self._disk, self._memory]

    def _is_empty(self, box: Outbox) -> bool:
        with contextlib.suppress(OutboxError):
            return not any(box.queue(name).count for name in box.receivers())
        return True

    def _open(self) -> None:
        """A damaged file is set aside and kept, and a new one begun."""
        self._tried_s = time.monotonic()
        try:
            self._disk = Outbox(self._path)
            return None
        except OutboxError as error:
            said = str(error)
            if not error.damaged:
                return self._troubled(f"{self._path} cannot be used ({said})")
        aside = self._path.with_name(f"{self._path.name}.damaged-{time.strftime('%Y%m%d-%H%M%S')}")
        try:
            for ending in ("-wal", "-shm", ""):
                with contextlib.suppress(FileNotFoundError):
                    os.replace(f"{self._path}{ending}", f"{aside}{ending}")
            self._disk = Outbox(self._path)
            log.error("The outbox could not be read (%s); it is kept as %s, and a new one has begun", said, aside)
        except (OSError, OutboxError) as error:
            self._troubled(f"{self._path} cannot be used ({error})")
        return None

    def _open_again(self) -> None:
        """It could not be opened at the start. What came meanwhile goes out of memory first: its order holds."""
        self._open()
        if self._disk is None:
            return
        if self._receivers is not None:
            self._try(partial(self._disk.keep_for, self._receivers))
        self._try(partial(self._disk.say, "running", "yes"))
        if self._is_empty(self._memory):
            self.trouble = ""
        log.info("The outbox %s can be used again", self._path)

    def _troubled(self, trouble: str) -> None:
        if not self.trouble:
            log.error("Messages wait in memory only: %s", trouble)
        self.trouble = trouble

    def _try(self, act: Callable[[], None]) -> None:
        try:
            act()
        except OutboxError as error:
            self._troubled(f"{self._path} cannot be written ({error})")
