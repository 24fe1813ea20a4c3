"""Consent of the PC: what a paired device asks for waits until somebody there agrees or refuses, a minute at most."""

import asyncio
import itertools
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from dataclasses import dataclass, field
from enum import StrEnum

from server.access.sessions import Session

ASK_S = 60.0
WAITING_MAX = 8  # questions of all devices
OF_ONE_MAX = 2  # of one device: nobody can bury the PC in questions


class Answer(StrEnum):
    """How it ended."""

    ACCEPTED = "accepted"
    REFUSED = "refused"
    LATE = "late"  # nobody answered
    GONE = "gone"  # the device was removed meanwhile
    TOO_MANY = "too many"  # it was not asked at all


@dataclass(frozen=True, slots=True, eq=False)
class Question:
    """What a device asks for; `act` in words that follow "asks to"."""

    number: int
    device: Session
    act: str
    until_s: float  # the loop's clock
    answered: "asyncio.Future[Answer]" = field(repr=False)


class Consents:
    """Questions that wait. `changed` are called whenever one comes or goes."""

    def __init__(self) -> None:
        self._numbers = itertools.count(1)
        self._waiting: dict[int, Question] = {}
        self.changed: set[Callable[[], None]] = set()

    def __iter__(self) -> Iterator[Question]:
        return iter(tuple(self._waiting.values()))

    async def ask(self, device: Session, act: str) -> Answer:
        """Wait for the answer, ASK_S at most. Cancelled, the question is withdrawn."""
        of_it = sum(each.device is device for each in self)
        if len(self._waiting) >= WAITING_MAX or of_it >= OF_ONE_MAX:
            return Answer.TOO_MANY
        loop = asyncio.get_running_loop()
        question = Question(next(self._numbers), device, act, loop.time() + ASK_S, loop.create_future())
        with self._asked(question), device.heard_of(lambda: _gone(question)):
            try:
                async with asyncio.timeout_at(question.until_s):
                    return await question.answered
            except TimeoutError:
                return Answer.LATE

    def answer(self, number: int, accept: bool) -> bool:
        """False: it waits no more."""
        question = self._waiting.get(number)
        return question is not None and _settle(question, Answer.ACCEPTED if accept else Answer.REFUSED)

    @contextmanager
    def _asked(self, question: Question) -> Iterator[None]:
        self._waiting[question.number] = question
        self._tell()
        try:
            yield
        finally:
            del self._waiting[question.number]
            self._tell()

    def _tell(self) -> None:
        for tell in tuple(self.changed):
            tell()


def _gone(question: Question) -> None:
    _settle(question, Answer.GONE)


def _settle(question: Question, answer: Answer) -> bool:
    if question.answered.done():
        return False
    question.answered.set_result(answer)
    return True
