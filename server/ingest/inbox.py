"""From a port's thread to the event loop: everything in order, one wake-up for what has gathered, a limit.

At the limit the port's thread waits: what is not read fills the line's own buffer, and the board then drops whole
blocks and counts them, which is told. Nothing is dropped in here.
"""

import asyncio
import threading
from collections import deque
from collections.abc import Callable
from typing import Generic, TypeVar

BYTES_MAX = 8_000_000  # half a minute of the reference board: more than any hiccup of the loop
LOOK_S = 0.02

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

    def close(self) -> None:
        """Take what is there, then nothing any more. On the loop's thread."""
        self._empty()
        self._closed.set()

    def _empty(self) -> None:
        with self._lock:
            things, self._things = self._things, deque()
            self._bytes, self._woken = 0, False
        for thing, _ in things:
            self._take(thing)
