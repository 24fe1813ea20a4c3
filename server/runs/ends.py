"""Both ends of what came one behind the other: a list of bounded length of a run that may be of any. Pure."""

from collections import deque
from typing import Generic, TypeVar

Each = TypeVar("Each")


class Ends(Generic[Each]):
    """The first half of so many and the newest; `count`: how many there were."""

    def __init__(self, most: int) -> None:
        self.count = 0
        self._first: list[Each] = []
        self._newest: deque[Each] = deque(maxlen=most // 2)
        self._half = most // 2

    def add(self, each: Each) -> None:
        """One more."""
        self.count += 1
        (self._first if len(self._first) < self._half else self._newest).append(each)

    @property
    def kept(self) -> list[Each]:
        """In the order in which they came."""
        return [*self._first, *self._newest]
