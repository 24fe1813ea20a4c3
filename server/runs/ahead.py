"""Entries of a run, read ahead in a thread: opening and reading files never holds up the event loop."""

import asyncio
from collections import deque
from collections.abc import Iterator
from itertools import islice

from server.runs.layout import Entry

READ_AT_ONCE = 256  # entries


class Ahead:
    """Of one iterator; a string among the entries says what could not be read."""

    def __init__(self, entries: Iterator[Entry | str]) -> None:
        self._entries, self._next = entries, deque[Entry | str]()

    async def peek(self) -> Entry | str | None:
        """The next one, which stays; None: there is none any more."""
        if not self._next:
            entries = self._entries
            self._next.extend(await asyncio.to_thread(lambda: list(islice(entries, READ_AT_ONCE))))
        return self._next[0] if self._next else None

    def take(self) -> Entry | str:
        """The one that was peeked at."""
        return self._next.popleft()
