"""Messages that a receiver answered and would not have: they are passed by and tried again, and given up at last.

A message alone may be at fault, as one that a program behind the address cannot read: then those behind it must not
wait for it. Or the address is: then all are refused, and none may be lost by it. What tells the two apart is whether
the receiver has taken another one meanwhile. Pure.
"""

from dataclasses import dataclass
from typing import Generic, TypeVar

AGAIN_S = 60.0  # until it is tried again, while others pass it
GIVE_UP_S = 600.0  # since it was refused first: a server that is put in place anew is through long before
ASIDE_MAX = 100  # refused in a row: it is the address, and those behind wait

Message = TypeVar("Message")


@dataclass(slots=True)
class _Refused(Generic[Message]):
    message: Message
    since_s: float
    again_s: float
    why: str


class Aside(Generic[Message]):
    """Of one receiver, the oldest first. All times are of one clock that never steps."""

    def __init__(self) -> None:
        self._all: list[_Refused[Message]] = []
        self._taken_s = -float("inf")  # when the receiver last took something

    @property
    def is_full(self) -> bool:
        return len(self._all) >= ASIDE_MAX

    @property
    def why(self) -> str:
        """Why the oldest was refused; empty: none is aside."""
        return self._all[0].why if self._all else ""

    def messages(self) -> list[Message]:
        return [its.message for its in self._all]

    def due(self, now_s: float) -> Message | None:
        """One that is to be tried again: that which waits longest for it."""
        due = [its for its in self._all if its.again_s <= now_s]
        return min(due, key=lambda its: its.again_s).message if due else None

    def refused(self, message: Message, why: str, now_s: float) -> bool:
        """It was refused, for the first time or again. Whether it is given up now."""
        its = next((each for each in self._all if each.message == message), None)
        if its is None:
            self._all.append(_Refused(message, now_s, now_s + AGAIN_S, why))
            return False
        its.again_s, its.why = now_s + AGAIN_S, why
        if now_s - its.since_s < GIVE_UP_S or self._taken_s <= its.since_s:
            return False
        self._all.remove(its)
        return True

    def taken(self, message: Message, now_s: float) -> None:
        """The receiver has this one."""
        self._taken_s = now_s
        self._all = [its for its in self._all if its.message != message]
