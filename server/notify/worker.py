"""One receiver: a thread of its own sends what waits for it, in order, again and again until it has it.

Whatever goes wrong with one receiver, the others and the service know nothing of it.
"""

import logging
import threading
import time
from collections.abc import Callable, Sequence
from concurrent.futures import Future
from concurrent.futures import TimeoutError as LateError
from dataclasses import dataclass
from random import Random

from server.notify.aside import Aside
from server.notify.boxes import Boxes
from server.notify.link import Link
from server.notify.mail import MailLink
from server.notify.mqtt import MqttLink
from server.notify.outbox import Outbox, OutboxError, Queue, Waiting
from server.notify.pauses import Pauses
from server.notify.receivers import AnyReceiver, Mail, Webhook, promise_of, secrets_of
from server.notify.trouble import RefusedError, SendError, masked
from server.notify.webhook import WebhookLink, webhook_place

TEND_S = 1.0
NUDGED_S = 1.0  # a receiver that says something while we pause shortens the pause, but not to less than this
LASTING_S = 600.0  # until a password that was refused is tried again: many servers lock out who tries often
LOGGED_MAX = 8  # kinds of trouble that are logged until something arrives; the page shows each
TEST_S = 50.0  # a person waits for a test so long at most: it may begin behind an attempt, and is one (24 s by MQTT)
_OUR_FAULT = "Slipring made a mistake while sending ({}); what went wrong stands in its log, and it is sent again."

log = logging.getLogger(__name__)


@dataclass(frozen=True, slots=True)
class Standing:
    """How it goes with a receiver, for people: no secret is in it."""

    name: str
    kind: str  # webhook, mail or mqtt
    place: str
    promise: str
    everything: bool
    sign_of_life_min: float
    queue: Queue
    sent_utc_s: float | None  # when something last reached it
    error: str  # why the last attempt failed; empty: it did not
    error_utc_s: float | None
    next_try_s: float | None  # from now


class Worker:
    """`clock`: UTC that never steps. Started at once; `finish` ends it."""

    def __init__(self, receiver: AnyReceiver, boxes: Boxes, identity: str, clock: Callable[[], float]) -> None:
        self.receiver = receiver
        self._boxes, self._clock = boxes, clock
        self._link = _link_to(receiver, identity, self._nudge)
        self._pauses = Pauses(Random())
        self._changed = threading.Condition()
        self._news, self._nudged = True, False
        self._waits = self._lasting = False  # whether the last attempt was of a message, and failed for good
        self._ends_s: float | None = None  # monotonic: until when what waits is still sent
        self._tests: list[Future[str]] = []
        self._has: dict[str, int] = {}  # by origin, up to which it has all but what is aside; the disk may not note it
        self._aside = Aside[tuple[Outbox, Waiting]]()
        self._singly = False
        self._alive_s = -float("inf")  # monotonic, of the last sign of life
        self._sent_utc_s: float | None = None
        self._error, self._error_utc_s, self._again_s = "", 0.0, 0.0
        self._logged = set[str]()  # sentences, since it last went well
        self._thread = threading.Thread(target=self._run, name=f"notify-{receiver.name}", daemon=True)
        self._thread.start()

    def news(self) -> None:
        """Something may wait for this receiver."""
        with self._changed:
            self._news = True
            self._changed.notify_all()

    def test(self) -> str:
        """Send a test message; what came of it. Raises SendError."""
        asked: Future[str] = Future()
        with self._changed:
            self._tests.append(asked)
            self._changed.notify_all()
        try:
            return asked.result(TEST_S)
        except LateError:
            asked.cancel()
            raise SendError(f"{self.receiver.name} gave no answer within {TEST_S:.0f} s; is its server on?") from None

    def finish(self, within_s: float) -> None:
        """Send what waits if that is possible within the time, then end."""
        with self._changed:
            self._ends_s = time.monotonic() + within_s
            self._changed.notify_all()

    def join(self, within_s: float) -> None:
        """A thread that hangs in a name service is left behind: it ends with the process."""
        self._thread.join(within_s)

    def standing(self) -> Standing:
        its, error = self.receiver, self._error or self._aside.why
        again_s = max(0.0, self._again_s - time.monotonic()) if error else None
        error_utc_s = self._error_utc_s if error else None
        kind = type(its).__name__.lower()
        queue = self._boxes.queue(its.name)
        names = (its.name, kind, place_of(its), promise_of(its), its.everything, its.sign_of_life_min)
        return Standing(*names, queue, self._sent_utc_s, error, error_utc_s, again_s)

    def _run(self) -> None:
        while not self._is_over():
            pause_s = self._turn(self._attempt)
            if pause_s:
                self._pause(pause_s)
            else:
                self._rest()
        self._turn(self._link.close)

    def _turn(self, act: Callable[[], None]) -> float:
        """Do it; how long to pause if it failed."""
        try:
            act()
        except SendError as error:
            return self._failed(str(error), error.lasting)
        except Exception as error:  # ours: this receiver is tried again, and its thread goes on
            sentence = _OUR_FAULT.format(type(error).__name__)
            if self._is_news(sentence):
                log.exception("A message to %s was not sent", self.receiver.name)
            return self._failed(sentence, lasting=False)
        self._error = ""
        self._pauses.begin_anew()
        return 0.0

    def _failed(self, sentence: str, lasting: bool) -> float:
        sentence = masked(sentence, secrets_of(self.receiver))
        if self._is_news(sentence):
            log.warning("Nothing reaches %s: %s", self.receiver.name, sentence)
            self._logged.add(sentence)
        self._lasting = lasting
        pause_s = LASTING_S if lasting else self._pauses.next_s()
        self._error, self._error_utc_s, self._again_s = sentence, self._clock(), time.monotonic() + pause_s
        return pause_s

    def _is_news(self, sentence: str) -> bool:
        """For the log: a receiver that finds ever new words must not fill it."""
        return sentence not in self._logged and len(self._logged) < LOGGED_MAX

    def _attempt(self) -> None:
        """Messages first: while they go out they prove life, and while none gets through silence is what is so."""
        self._answer_tests()
        with self._changed:
            self._news = False
        box, entries = self._next()
        self._waits = bool(entries)
        life_s = 60 * self.receiver.sign_of_life_min
        is_reached = True
        if entries:
            with self._changed:
                self._news = True
            self._deliver(box, entries)
        elif life_s and time.monotonic() - self._alive_s >= life_s and self._ends_s is None:
            self._tell_life()
        else:
            is_reached = self._link.tend()
        if is_reached and self._logged and not self._aside.messages():
            log.warning("%s is reached again", self.receiver.name)
            self._logged.clear()

    def _tell_life(self) -> None:
        try:
            self._link.sign_of_life(self._clock())
        except RefusedError:
            self._alive_s = time.monotonic()  # messages must not wait for one that this receiver will not have
            raise
        self._alive_s, self._sent_utc_s = time.monotonic(), self._clock()

    def _next(self) -> tuple[Outbox, Sequence[Waiting]]:
        """What is sent next: one that was refused and is due again, or what is behind all that were dealt with."""
        again = self._aside.due(time.monotonic())
        if again is not None:
            return again[0], [again[1]]
        at_most = 0 if self._aside.is_full else 1 if self._singly else self._link.at_once
        return self._boxes.next(self.receiver.name, at_most, self._has)

    def _deliver(self, box: Outbox, entries: Sequence[Waiting]) -> None:
        origin = box.origin
        try:
            has = self._link.deliver(origin, entries)
        except RefusedError as error:
            self._singly = len(entries) > 1  # which of them is at fault shows one by one
            if not self._singly:
                self._refused(box, entries[0], str(error))
            raise
        passed = bool(self._aside.messages())
        self._aside.taken((box, entries[0]), time.monotonic())
        try:
            if has > entries[-1].number and box.was_set_back(has):
                return  # the same again, as of a new outbox
            self._has[origin] = max(has, self._has.get(origin, 0)) if passed else has
            if any(its is box for its, _ in self._aside.messages()):
                for entry in entries:
                    box.took(self.receiver.name, entry.number)
            else:
                box.has(self.receiver.name, self._has[origin], self._clock())
        except OutboxError as error:
            log.warning("What %s has could not be noted (%s)", self.receiver.name, error)
        if has < entries[0].number:
            raise SendError("The receiver does not say that it has stored what was sent; it is sent again.")
        self._sent_utc_s = self._clock()

    def _refused(self, box: Outbox, entry: Waiting, why: str) -> None:
        """Others may pass it; at last it is given up, which the outbox counts and tells with what arrives next."""
        self._has[box.origin] = max(entry.number, self._has.get(box.origin, 0))
        why = masked(why, secrets_of(self.receiver))
        if not self._aside.refused((box, entry), why, time.monotonic()):
            return
        log.error(
            "Message %d was given up, as %s takes others and not this one: %s", entry.number, self.receiver.name, why
        )
        try:
            box.give_up(self.receiver.name, entry.number)
        except OutboxError as error:
            log.warning("What %s was not told could not be noted (%s)", self.receiver.name, error)

    def _answer_tests(self) -> None:
        with self._changed:
            tests, self._tests = self._tests, []
        for asked in tests:
            if not asked.set_running_or_notify_cancel():
                continue
            try:
                asked.set_result(self._link.test(self._clock()))
            except SendError as error:
                asked.set_exception(SendError(masked(str(error), secrets_of(self.receiver))))
            except Exception as error:  # ours: whoever pressed the button is told, and the thread goes on
                log.exception("A test of %s failed", self.receiver.name)
                asked.set_exception(SendError(_OUR_FAULT.format(type(error).__name__)))

    def _nudge(self) -> None:
        with self._changed:
            self._nudged = True
            self._changed.notify_all()

    def _is_over(self) -> bool:
        with self._changed:
            if self._ends_s is None:
                return False
            return bool(self._error) or not self._news or time.monotonic() >= self._ends_s

    def _pause(self, pause_s: float) -> None:
        """Before the next attempt. Behind a sign of life that failed a message that comes is tried at once; not where
        the receiver does not let us in, for many lock out who tries often."""
        start_s = time.monotonic()
        with self._changed:
            self._nudged = False
        while self._paused(start_s, pause_s):
            if self._boxes.next(self.receiver.name, 1, self._has)[1]:  # others are written to as well
                return

    def _paused(self, start_s: float, pause_s: float) -> bool:
        """Wait until the pause is over; True: until something came that may be for this receiver."""
        with self._changed:
            while (left_s := start_s + pause_s - time.monotonic()) > 0 and self._ends_s is None and not self._tests:
                if self._news and not self._waits and not self._lasting:
                    self._news = False
                    return True
                if self._nudged:
                    left_s = min(left_s, start_s + NUDGED_S - time.monotonic())
                    if left_s <= 0:
                        return False
                self._changed.wait(left_s)
            return False

    def _rest(self) -> None:
        with self._changed:
            if not (self._news or self._tests or self._ends_s is not None):
                self._changed.wait(TEND_S)


def place_of(receiver: AnyReceiver) -> str:
    """Where it is, without what may be secret of it."""
    if isinstance(receiver, Webhook):
        return webhook_place(receiver)
    if isinstance(receiver, Mail):
        return f"{receiver.to} by {receiver.host}"
    return f"{receiver.topic}/notices at {receiver.host}, port {receiver.port}"


def _link_to(receiver: AnyReceiver, identity: str, heard: Callable[[], None]) -> Link:
    if isinstance(receiver, Webhook):
        return WebhookLink(receiver)
    if isinstance(receiver, Mail):
        return MailLink(receiver)
    return MqttLink(receiver, identity, heard)
