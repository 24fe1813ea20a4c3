"""From a port's thread to the event loop: everything in order, one wake-up for what has gathered, a limit.

What takes long is taken in turns: page, signals and other rigs have the loop in between.

At the limit the port's thread waits: what is not read fills the line's own buffer, and the board then drops whole
blocks and counts them, which is told. Nothing is dropped in here.
"""

import asyncio
import threading
import time
from collections import deque
from collections.abc import Callable
from typing import Generic, TypeVar

BYTES_MAX = 8_000_000  # half a minute of the reference board: more than any hiccup of the loop
LOOK_S = 0.02
TURN_S = 0.01  # of the loop's time at once, and one thing more
CLOSING_S = 1.5  # for what is left at the end; what costs more than that is given back

T = TypeVar("T")


class Inbox(Generic[T]):
    """`take` is called on the loop with one thing after the other; `put` may be called from any thread."""

    def __init__(self, loop: asyncio.AbstractEventLoop, take: Callable[[T], None]) -> None:
        self._loop = loop
        self._take = take
        self._things: deque[tuple[T, int]] = deque()
        self._bytes = 0
        self._lock = threading.Lock()
        self._woken = False
        self._closed = threading.Event()
        self._busy_since_s: float | None = None

    def put(self, thing: T, size: int = 0) -> None:
        """Hand over; waits while more than BYTES_MAX are on their way. After `close` things are dropped."""
        while self._bytes > BYTES_MAX and not self._closed.wait(LOOK_S):
            pass
        with self._lock:
            if self._closed.is_set():
                return
            self._things.append((thing, size))
            self._bytes += size
            wake, self._woken = not self._woken, True
        if wake:
            self._loop.call_soon_threadsafe(self._empty)

    @property
    def behind_s(self) -> float:
        """For how long there has been something left after each turn. On the loop's thread."""
        return 0.0 if self._busy_since_s is None else time.monotonic() - self._busy_since_s

    def close(self) -> list[T]:
        """Take what is there, then nothing any more; what there was no time for. On the loop's thread."""
        self._take_for(CLOSING_S)
        self._closed.set()
        with self._lock:
            left = [thing for thing, _ in self._things]
            self._things.clear()
            self._bytes = 0
        return left

    def _empty(self) -> None:
        if self._take_for(TURN_S):
            self._busy_since_s = None
        elif not self._closed.is_set():
            self._busy_since_s = self._busy_since_s or time.monotonic()
            self._loop.call_soon(self._empty)

    def _take_for(self, seconds: float) -> bool:
        """Whether all has been taken."""
        ends_s = time.monotonic() + seconds
        while not self._closed.is_set():
            with self._lock:
                if not self._things:
                    self._woken = False
                    return True
                thing, size = self._things.popleft()
                self._bytes -= size
            self._take(thing)
            if time.monotonic() >= ends_s:
                break
        return False
