"""All receivers of this service: settings read and read again, notices numbered and kept, workers started and ended.

`deliver` never waits and never raises: a notice goes to a thread that writes the outbox. A settings file that cannot
be used keeps nothing from starting: what held before goes on, and what was kept for its receivers waits for them.
"""

import hashlib
import logging
import queue
import threading
import time
from collections.abc import Callable, Mapping, Sequence
from pathlib import Path

from server.alarms.notice import Notice
from server.config import ConfigError
from server.notify.boxes import Boxes
from server.notify.draft import Rank, Word, added, of_notice, started, stopped
from server.notify.receivers import AnyReceiver
from server.notify.settings import parse_receivers
from server.notify.worker import Standing, Worker
from server.settings.file import settings_text

FILE = "notify.toml"
OUTBOX = "outbox.db"
HELD_MAX = 10_000  # notices that wait to be written; each takes some milliseconds
AT_ONCE_MAX = 500  # that are written together
LOOK_S = 1.0
FLUSH_S = 1.0  # of the five in which the service ends
JOIN_S = 0.5

Stamp = tuple[int, int, int]  # of a file: when it was written, its size, which one it is
_UNKNOWN: Stamp = (-1, -1, -1)  # nobody can tell now whether there is one, as where its disk is away

log = logging.getLogger(__name__)


class Delivery:
    """`data`: the service's folder; `clock`: UTC that never steps. Nothing is made while there are no settings."""

    def __init__(self, data: Path, clock: Callable[[], float]) -> None:
        self.file, self._outbox, self._clock = data / FILE, data / OUTBOX, clock
        self.standing: Callable[[], Sequence[Notice]] = tuple  # how alarms stand now; this and
        self.called: Callable[[], Mapping[str, Sequence[str]]] = dict  # whom each rig calls are asked by the thread
        self._unknown: dict[str, list[str]] = {}  # of these, whom nobody knows
        self._held: queue.Queue[Notice | None] = queue.Queue(HELD_MAX)
        self._lock = threading.Lock()  # of what follows
        self._workers: dict[str, Worker] = {}
        self._boxes: Boxes | None = None
        self._seen: Stamp | None = None  # of the settings that were taken
        self._stamped = self._stamp()  # at the last look
        self._begun_utc_s, self._looked = clock(), False  # whether its first look is over: who comes later is added
        self.refusal = ""  # why the settings cannot be used
        self._thread: threading.Thread | None = None

    def start(self) -> None:
        """Begin, in a thread of its own: an outbox that is full takes seconds to be looked through."""
        self._thread = threading.Thread(target=self._run, name="notify", daemon=True)
        self._thread.start()

    def deliver(self, notice: Notice) -> None:
        """Tell it to those whom the notice names, after the quiet hours that it names.

        An alarm that names nobody, or nobody who is known, goes to all: too much is told rather than too little.
        Receivers that get everything get it at once.
        """
        self._hold(notice)

    def stop(self) -> None:
        """Send what can be sent in a moment, keep the rest; blocks for some seconds at most."""
        if self._thread is None:
            return
        self._hold(None)
        self._thread.join(JOIN_S)
        with self._lock:
            workers, self._workers = self._workers, {}
            boxes, self._boxes = self._boxes, None
        _end(list(workers.values()), FLUSH_S)
        if boxes is not None:
            boxes.ends()
            boxes.close()

    def standings(self) -> list[Standing]:
        """How it goes with each receiver; asks the disk."""
        with self._lock:
            workers = list(self._workers.values())
        return [worker.standing() for worker in workers]

    @property
    def trouble(self) -> str:
        """Why messages are not on disk; empty: they are."""
        boxes = self._boxes
        return "" if boxes is None else boxes.trouble

    def test(self, name: str) -> str:
        """Send a test message; what came of it. KeyError without the receiver, SendError where it failed."""
        with self._lock:
            worker = self._workers[name]
        return worker.test()

    def _hold(self, notice: Notice | None) -> None:
        try:
            self._held.put_nowait(notice)
        except queue.Full:
            log.error("A notice was not kept: %d wait already to be written", HELD_MAX)

    def _run(self) -> None:
        over, looked_s = False, -LOOK_S
        while not over:
            try:
                if time.monotonic() - looked_s >= LOOK_S:
                    looked_s = time.monotonic()
                    self._look()
                    self._look_at_calls()
                notices, over = self._next()
                self._write(notices, over)
            except Exception:  # whatever it is, later notices must go on
                log.exception("Notices could not be kept")

    def _next(self) -> tuple[list[Notice], bool]:
        """What has come, and whether the service stops."""
        notices: list[Notice] = []
        try:
            notice = self._held.get(timeout=LOOK_S)
            while notice is not None:
                notices.append(notice)
                if len(notices) == AT_ONCE_MAX:
                    return notices, False
                notice = self._held.get_nowait()
            return notices, True
        except queue.Empty:
            return notices, False

    def _write(self, notices: Sequence[Notice], over: bool) -> None:
        if self._boxes is None:
            return
        known = self._boxes.receivers()
        words = [word for notice in notices for word in _words(notice, known, self._clock())]
        if over:
            words.append(Word(stopped(self._clock())))
        if words:
            self._boxes.add(words, self._clock())
        if self._boxes.tend(self._clock(), self._now) or words:
            with self._lock:
                for worker in self._workers.values():
                    worker.news()

    def _now(self) -> dict[str, dict[str, str | float | int]]:
        return {notice.id: of_notice(notice).whole for notice in self.standing()}

    def _look(self) -> None:
        """Take what a person has written into the settings."""
        stamp = self._stamp()
        settled, self._stamped = stamp == self._stamped, stamp
        if stamp == self._seen or not settled:
            self._looked = self._looked or settled
            return  # some editors empty a file before they write it: what waits must not be given up for that
        self._seen = stamp
        try:
            receivers = () if stamp is None else self._read()
        except ConfigError as error:
            self.refusal = str(error)
            log.error("Receivers of notices: %s", self.refusal)
            if self._outbox.exists():
                self._open()  # notices wait in it until the file is mended
            return
        self.refusal = ""
        if receivers or self._boxes is not None:
            self._take(receivers)
        self._looked = True

    def _look_at_calls(self) -> None:
        """Say once when a rig calls a receiver that is not there, and once when that is right."""
        if self.refusal:
            return  # nobody can tell who is there
        with self._lock:
            known = set(self._workers)
        before, self._unknown = self._unknown, {}
        for rig, names in self.called().items():
            self._unknown[rig] = unknown = [name for name in names if name not in known]
            if unknown and unknown != before.get(rig):
                log.warning("%s calls receivers that notify.toml does not have: %s", rig, ", ".join(unknown))
            elif before.get(rig) and not unknown:
                log.warning("%s calls no receivers any more that notify.toml does not have", rig)

    def _read(self) -> tuple[AnyReceiver, ...]:
        receivers = parse_receivers(settings_text(self.file), str(self.file))
        if self.file.stat().st_mode & 0o077:
            try:
                self.file.chmod(0o600)
                log.warning("%s may hold secrets and could be read by others; now its owner alone can", self.file)
            except OSError:  # it belongs to somebody else
                log.warning("%s may hold secrets and others can read it; type chmod 600 on it", self.file)
            self._seen = self._stamped = self._stamp()
        return receivers

    def _take(self, receivers: Sequence[AnyReceiver]) -> None:
        boxes = self._open(receivers)
        with self._lock:
            changed = [each for each in self._workers.values() if each.receiver not in receivers]
            for worker in changed:
                del self._workers[worker.receiver.name]
        _end(changed, 0.0)
        with self._lock:
            for receiver in receivers:
                if receiver.name not in self._workers:
                    identity = hashlib.sha256(f"{boxes.origin} {receiver.name}".encode()).hexdigest()
                    self._workers[receiver.name] = Worker(receiver, boxes, f"slipring{identity[:14]}", self._clock)

    def _open(self, receivers: Sequence[AnyReceiver] | None = None) -> Boxes:
        """`receivers` None: those that were there before."""
        if self._boxes is not None:
            if receivers is not None:
                self._boxes.keep_for({each.name: each.everything for each in receivers})
            return self._boxes
        boxes = Boxes(self._outbox)
        if receivers is not None:
            boxes.keep_for({each.name: each.everything for each in receivers})
        now_utc_s, in_order = self._clock(), boxes.begins()
        is_new = in_order and self._looked
        boxes.add([Word(added(now_utc_s, self._begun_utc_s) if is_new else started(now_utc_s, in_order))], now_utc_s)
        self._boxes = boxes
        return boxes

    def _stamp(self) -> Stamp | None:
        try:
            found = self.file.stat()
        except FileNotFoundError:
            return None if self.file.parent.is_dir() else _UNKNOWN
        except OSError:
            return _UNKNOWN
        return found.st_mtime_ns, found.st_size, found.st_ino


def _words(notice: Notice, known: Mapping[str, bool], utc_s: float) -> list[Word]:
    """Whom a notice goes to, now and later."""
    draft = of_notice(notice)
    meant = tuple(name for name in notice.receivers if name in known)
    if not meant and draft.rank is Rank.ALARM:
        meant = tuple(known)
    at_once = tuple(name for name, everything in known.items() if everything)
    later = tuple(name for name in meant if name not in at_once)
    if notice.not_before_utc_s is None or notice.not_before_utc_s <= utc_s:
        return [Word(draft, (*at_once, *later))]
    return [Word(draft, at_once), Word(draft, later, notice.not_before_utc_s)]


def _end(workers: Sequence[Worker], within_s: float) -> None:
    for worker in workers:
        worker.finish(within_s)
    until_s = time.monotonic() + within_s + JOIN_S
    for worker in workers:
        worker.join(max(0.0, until_s - time.monotonic()))
