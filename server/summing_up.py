"""Sums up runs that are closed or were left, the newest first, each in a child process of low priority.

The list of runs waits for none of it. What cannot be summed up is told with the reason, and not tried again before the
next start of the service.
"""

import asyncio
import logging
import time

from server.low_priority import Children
from server.runs.shelf import Shelf

LOOK_EVERY_S = 1.0
PROGRAM = "server.runs.sum_up"

log = logging.getLogger(__name__)


class SummingUp:
    """Cancel `run()` to end; the child ends with it. `failed`: run -> why it could not be summed up."""

    def __init__(self, shelf: Shelf, children: Children) -> None:
        self._shelf, self._children = shelf, children
        self.failed: dict[str, str] = {}

    async def run(self) -> None:
        while True:
            name = await asyncio.to_thread(self._shelf.to_sum_up, tuple(self.failed), time.time())
            if not name:
                await asyncio.sleep(LOOK_EVERY_S)
                continue
            said = await self._sum_up(name)
            if said and self._shelf.is_there(name):
                self.failed[name] = said
                log.warning("The run %s could not be summed up: %s", name, said)

    async def _sum_up(self, name: str) -> str:
        """Why it failed, or empty."""
        said = await self._children.run(PROGRAM, self._shelf.folder / name)
        if not said and not await asyncio.to_thread(self._shelf.is_summed_up, name):
            return "what its program left does not fit the run"
        return said
