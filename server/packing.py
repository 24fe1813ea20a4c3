"""Packs segments that nothing is added to any more, a run at a time, each in a child process of low priority.

Segments of a run that is still open are packed too, all but the last: so a night does not fill the disk. What cannot be
packed stays as it is, is told, and is tried again after a while: the disk may have been full.
"""

import asyncio
import logging
import time

from server.low_priority import Children, turns
from server.runs.shelf import Shelf

LOOK_EVERY_S = 10.0
RETRY_S = 600.0
PROGRAM = "server.runs.pack"

log = logging.getLogger(__name__)


class Packing:
    """Cancel `run()` to end; the child ends with it."""

    def __init__(self, shelf: Shelf, children: Children) -> None:
        self._shelf, self._children = shelf, children
        self._failed: dict[str, float] = {}  # runs that could not be packed, and when it is tried again

    async def run(self) -> None:
        await turns("Runs are not packed", self._turn, self._children.troubles)

    async def _turn(self) -> float:
        """Pack a run, if there is one to pack; how long to wait then."""
        now_s = time.monotonic()
        self._failed = {name: due_s for name, due_s in self._failed.items() if due_s > now_s}
        found = await asyncio.to_thread(self._shelf.to_pack, tuple(self._failed), time.time())
        if found is None:
            return LOOK_EVERY_S
        name, options = found.name, (("--all",) if found.closed_utc_s is not None else ())
        said = await self._children.run(PROGRAM, self._shelf.folder / name, *options)
        if said and self._shelf.is_there(name):
            self._failed[name] = time.monotonic() + RETRY_S
            log.warning("The run %s could not be packed and stays as it was written: %s", name, said)
        return 0.0
