"""Sums up runs that are closed or were left, the newest first, each in a child process of low priority.

The list of runs waits for none of it. What cannot be summed up is told with the reason, and not tried again before the
run is another one: it may have been left by a cable that was out, and have gone on meanwhile. Where the disk was full
it is tried again after a while, and told as a trouble of the service until then. So is what something else ended, as
this PC was short of memory, after a longer one.
"""

import asyncio
import logging
import time
from collections.abc import Callable, Collection
from functools import partial
from math import inf

from server.low_priority import ENDED, Children, turns
from server.runs.shelf import Shelf, State
from server.runs.sum_up import NO_ROOM

LOOK_EVERY_S = 1.0
# Where the disk was full: a night is played for minutes each time, and who made room waits no longer than this.
RETRY_S = 300.0
ENDED_RETRY_S = 3600.0
TOLD_MAX = 3  # runs that are named in the trouble; of more it says how many
PROGRAM = "server.runs.sum_up"
_NO_ROOM_FOR = "room to sum up"  # among the troubles

log = logging.getLogger(__name__)


class SummingUp:
    """Cancel `run()` to end; the child ends with it. `failed`: run -> why it could not be summed up.

    `held`: names of the runs that rigs hold open; they may go on at any moment. `soon_s`: so long from now on any run
    that was left open may, as its board is not heard of yet.
    """

    def __init__(
        self, shelf: Shelf, children: Children, held: Callable[[], Collection[str]] = tuple, soon_s: float = 0.0
    ) -> None:
        self._shelf, self._children, self._held = shelf, children, held
        self._left_from_s = time.monotonic() + soon_s
        self.failed: dict[str, str] = {}
        self.shares: dict[str, float] = {}  # how far it is, from 0 to 1, of the run whose turn it is
        self._failed_as: dict[str, State | None] = {}  # how each of those runs was
        self._again_s: dict[str, float] = {}  # when each of those is tried again as it was, on the monotonic clock

    async def run(self) -> None:
        await turns("Runs are not summed up", self._turn, self._children.troubles)

    async def _turn(self) -> float:
        """Sum up a run, if there is one; how long to wait then."""
        name, state = await asyncio.to_thread(self._next, frozenset(self._held()))
        if not name:
            self._tell_no_room()
            return LOOK_EVERY_S
        said = await self._sum_up(name)
        if said and self._shelf.is_there(name):
            self.failed[name], self._failed_as[name] = said, state
            retry_s = RETRY_S if NO_ROOM in said else ENDED_RETRY_S if said.startswith(ENDED) else inf
            self._again_s[name] = time.monotonic() + retry_s
            log.warning("The run %s could not be summed up: %s", name, said)
        else:
            self.failed.pop(name, None)
        self._tell_no_room()
        return 0.0

    def _next(self, held: Collection[str]) -> tuple[str, State | None]:
        """A run to sum up, or empty, and how it is."""
        self._failed_as = {name: state for name, state in self._failed_as.items() if self._shelf.state(name) == state}
        self.failed = {name: said for name, said in self.failed.items() if name in self._failed_as}
        self._again_s = {name: at_s for name, at_s in self._again_s.items() if name in self.failed}
        now_s = time.monotonic()
        # Asked for here and not of the shelf: what could not be made may be a log that is there and lacks something.
        again = next((name for name in self.failed if self._again_s[name] <= now_s and name not in held), "")
        if now_s < self._left_from_s:
            held = {*held, *(each.name for each in self._shelf.summaries() if each.closed_utc_s is None)}
        name = self._shelf.to_sum_up(self.failed, time.time(), held) or again
        return name, self._shelf.state(name) if name else None

    def _tell_no_room(self) -> None:
        """As a trouble: somebody must make room."""
        runs = [name for name, said in self.failed.items() if NO_ROOM in said]
        more = f" and {len(runs) - TOLD_MAX} more" if len(runs) > TOLD_MAX else ""
        self._children.troubles.pop(_NO_ROOM_FOR, None)
        if runs:
            self._children.troubles[_NO_ROOM_FOR] = (
                f"Not all is kept of {', '.join(runs[:TOLD_MAX])}{more}, as {NO_ROOM}; make room on it: it is tried"
                f" again every {RETRY_S / 60.0:.0f} min"
            )

    async def _sum_up(self, name: str) -> str:
        """Why it failed, or empty."""
        self.shares = {name: 0.0}
        try:
            tell = partial(self.shares.__setitem__, name)
            said = await self._children.run(PROGRAM, self._shelf.folder / name, share=tell)
        finally:
            self.shares = {}
        if not said and not await asyncio.to_thread(self._shelf.is_summed_up, name):
            return "what its program left does not fit the run"
        return said
