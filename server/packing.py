"""Packs segments that nothing is added to any more, a run at a time, each in a child process of low priority.

Segments of a run that is still open are packed too, all but the last: so a night does not fill the disk. What cannot be
packed stays as it is, is tried again after a while, as the disk may have been full, and is a trouble of the service
until then: runs that are not packed fill the disk in a night.
"""

import asyncio
import logging
import time

from server.low_priority import Children, turns
from server.runs.shelf import Shelf

LOOK_EVERY_S = 10.0
RETRY_S = 600.0
TOLD_MAX = 3  # runs that are named in the trouble; of more it says how many
PROGRAM = "server.runs.pack"
_NOT_PACKED = "packing of runs"  # among the troubles

log = logging.getLogger(__name__)


class Packing:
    """Cancel `run()` to end; the child ends with it."""

    def __init__(self, shelf: Shelf, children: Children) -> None:
        self._shelf, self._children = shelf, children
        self._failed: dict[str, tuple[float, str]] = {}  # runs: when each is tried again, and why it was not packed

    async def run(self) -> None:
        await turns("Runs are not packed", self._turn, self._children.troubles)

    async def _turn(self) -> float:
        """Pack a run, if there is one to pack; how long to wait then."""
        now_s = time.monotonic()
        left = {name: its for name, its in self._failed.items() if its[0] > now_s and self._shelf.is_there(name)}
        found = await asyncio.to_thread(self._shelf.to_pack, tuple(left), time.time())
        if found is None:
            self._failed = left  # of the others there is nothing to pack any more
            self._tell()
            return LOOK_EVERY_S
        name, options = found.name, (("--all",) if found.closed_utc_s is not None else ())
        said = await self._children.run(PROGRAM, self._shelf.folder / name, *options)
        self._failed.pop(name, None)
        if said and self._shelf.is_there(name):
            self._failed[name] = time.monotonic() + RETRY_S, said
            log.warning("The run %s could not be packed and stays as it was written: %s", name, said)
        self._tell()
        return 0.0

    def _tell(self) -> None:
        """As a trouble, with the reason of the newest: somebody must look."""
        self._children.troubles.pop(_NOT_PACKED, None)
        if self._failed:
            runs, (_, said) = list(self._failed), list(self._failed.values())[-1]
            more = f" and {len(runs) - TOLD_MAX} more" if len(runs) > TOLD_MAX else ""
            self._children.troubles[_NOT_PACKED] = (
                f"Not packed, so larger on the disk: {', '.join(runs[:TOLD_MAX])}{more} ({said.rstrip('.')});"
                f" it is tried again every {RETRY_S / 60.0:.0f} min"
            )
