"""Keeps room for recordings: how long there is some, and raw samples thinned where a person agreed to it.

A run at a time, by a child process of low priority, like packing. What cannot be thinned stays as it is, is told, and
is tried again after a while. Without a plan nothing is ever given up.
"""

import asyncio
import logging
import time
from collections.abc import Callable, Iterable, Mapping
from dataclasses import replace
from functools import partial
from pathlib import Path
from typing import TypeVar

from server.config import RigSettings
from server.live.records import Recording
from server.low_priority import Children, turns
from server.runs.library import RunSummary
from server.runs.log.reading import LogError, LogReader
from server.runs.packed_segments import bytes_per_s, packed_segments
from server.runs.shelf import Shelf
from server.runs.space import (
    THIN_BELOW_S,
    TOLD_LATE_S,
    Packed,
    Plan,
    given_up_bytes,
    least_free,
    left_s,
    next_to_thin,
    unknown_spans,
)
from server.runs.thinned_run import ACCOUNT_DUE
from server.whole_file import free_and_total

LOOK_EVERY_S = 10.0
RETRY_S = 600.0
LONG_DUE_S = 600.0  # a plan gives nothing up of what a log should have known so long ago: that is told,
KEPT_TOLD_MAX = 10  # of so many runs at most, the first ones
SEGMENTS_MAX = 20  # in one go: then it is looked again, as there may be room enough
PROGRAM = "server.runs.thin"

log = logging.getLogger(__name__)
T = TypeVar("T")


def plans_of(settings: Iterable[RigSettings]) -> dict[str, Plan]:
    """What persons agreed to give up for room, by the rig's name."""
    agreed = {its.name: its.space for its in settings if its.space.thin_raw}
    return {name: Plan(space.around_s, space.each_hour_s) for name, space in agreed.items()}


def with_room(recorded: Callable[[], Recording], room_s: Callable[[], float | None]) -> Callable[[], Recording]:
    """How a recording is, with for how long there is room for it, in whole seconds."""

    def told() -> Recording:
        its, left = recorded(), room_s()
        return its if left is None else replace(its, room_s=round(left))

    return told


class KeepingRoom:
    """Cancel `run()` to end; the child ends with it. `plans`: by the rig's name, those that are agreed to now.

    `utc_s`: the service's clock; `free(folder)` gives free and total bytes of its disk.
    """

    def __init__(
        self,
        shelf: Shelf,
        children: Children,
        utc_s: Callable[[], float],
        plans: Callable[[], Mapping[str, Plan]],
        free: Callable[[Path], tuple[int, int]] = free_and_total,
    ) -> None:
        self.room_s: float | None = None  # for how long there is room at what is recorded now; None: nothing is
        self._shelf, self._children, self._utc_s, self._plans, self._free = shelf, children, utc_s, plans, free
        self._tried: dict[tuple[str, str, Plan], float] = {}  # segments, by which plan, and until when they are left
        self._known: dict[str, tuple[int, list[Packed]]] = {}  # by run, as long as its folder does not change
        self._rates: dict[str, float] = {}  # of the runs that are recorded, bytes per second
        self._told: dict[str, str] = {}  # by run, why it cannot be read
        self._kept: dict[str, str] = {}  # by run, in a sentence, why a plan gives up nothing of it
        self._refused: dict[str, str] = {}  # by run, likewise, why it could not be thinned when that was last tried
        self._told_kept = set[str]()  # those that stand among the troubles
        self._short = False  # something must be given up now
        self._due: dict[str, float] | None = (
            None  # runs whose account does not fit, until when they are left; None: not known
        )

    async def run(self) -> None:
        await turns("Room for recordings is not kept", self._turn, self._children.troubles)

    async def _turn(self) -> float:
        """Give something up, if it must be; how long to wait then."""
        plans = dict(self._plans())
        chosen = await asyncio.to_thread(self._look, plans)
        self._tell_kept()
        due = next((run for run, due_s in (self._due or {}).items() if due_s <= time.monotonic()), None)
        if due is not None:
            await self._account_again(due)
        elif chosen:
            await self._thin(chosen, plans[chosen[0].rig])
        else:
            return LOOK_EVERY_S
        return 0.0

    def _look(self, plans: Mapping[str, Plan]) -> list[Packed]:
        """What is to be thinned now. Raises OSError."""
        folder, now_s = self._shelf.folder, time.monotonic()
        runs = self._shelf.summaries()
        if self._due is None:
            self._due = {run.name: 0.0 for run in runs if (folder / run.name / ACCOUNT_DUE).exists()}
        self._tried = {key: due_s for key, due_s in self._tried.items() if due_s > now_s}
        planned = [run for run in runs if run.rig in plans and run.is_of(run.rig)]
        self._kept = {}
        self._refused = {run.name: self._refused[run.name] for run in planned if run.name in self._refused}
        may = [each for run in planned for each in self._guarded(run, partial(self._may_go, run, plans[run.rig]))]
        recorded = [run for run in runs if self._shelf.is_recorded(run, time.time())]
        self._rates = {run.name: rate for run in recorded for rate in self._guarded(run, partial(self._rate, run))}
        rate = sum(self._rates.values())
        free, total = self._free(folder)
        least = least_free(total)
        self.room_s = left_s(free, least, given_up_bytes(may, plans), rate)
        wanted = rate * THIN_BELOW_S - (free - least)
        self._short = wanted > 0.0 and (rate > 0.0 or free < least)
        if not self._short:  # or nothing is recorded, and not for want of room
            return []
        return next_to_thin(may, plans, wanted)[:SEGMENTS_MAX]

    def _guarded(self, run: RunSummary, asked: Callable[[], list[T]]) -> list[T]:
        """What is asked of a run; nothing of one that cannot be read, which is told once and holds up no other."""
        try:
            return asked()
        except OSError as error:
            said = error.strerror or str(error)
            if self._told.get(run.name) != said:
                log.warning("The run %s is left out where room is kept: %s", run.name, said)
            self._told[run.name] = said
            self._kept[run.name] = f"the run {run.name} cannot be read: {said}"
            return []

    def _rate(self, run: RunSummary) -> list[float]:
        """Bytes per second of a run that is recorded, as far as it is known or was a moment ago."""
        rate = bytes_per_s(self._shelf.folder / run.name, self._utc_s())
        return [each for each in (self._rates.get(run.name) if rate is None else rate,) if each is not None]

    def _may_go(self, run: RunSummary, plan: Plan) -> list[Packed]:
        """What of a run may be thinned now: of an open one that alone whose events its log knows."""
        its = [each for each in self._packed(run) if (run.name, each.name, plan) not in self._tried]
        if run.closed_utc_s is not None or all(each.thinned for each in its):
            return its
        late_s, may, why = plan.around_s + TOLD_LATE_S, list[Packed](), ""
        try:
            with LogReader(self._shelf.folder / run.name) as log_of_run:
                known_s, unknown = log_of_run.whole_until_utc_s, unknown_spans(plan, log_of_run.missing)
                why = f"its log does not know all that happened ({log_of_run.meta.get('incomplete') or 'it ended'})"
            known = (each for each in its if each.to_utc_s + late_s <= known_s)
            may = [each for each in known if not any(a <= each.from_utc_s and each.to_utc_s <= b for a, b in unknown)]
        except LogError as error:
            why = str(error)
        is_due = min(each.to_utc_s for each in its if not each.thinned) + late_s + LONG_DUE_S < self._utc_s()
        if is_due and all(each.thinned for each in may):
            self._kept[run.name] = f"the plan gives up nothing of {run.name}, as {why}"
        return may

    def _packed(self, run: RunSummary) -> list[Packed]:
        changed = (self._shelf.folder / run.name).stat().st_mtime_ns
        known = self._known.get(run.name)
        if known is None or known[0] != changed:
            known = changed, packed_segments(self._shelf.folder / run.name, run.rig, run.closed_utc_s is not None)
            self._known[run.name] = known
        return known[1]

    def _tell_kept(self) -> None:
        """What a plan gives up nothing of while room is short: in the log once, and as a trouble."""
        whole = sorted({**self._refused, **self._kept}.items())[:KEPT_TOLD_MAX] if self._short else []
        told = {f"room in {run}": f"Room is short, and {said}; make room on the disk" for run, said in whole}
        for key in self._told_kept - told.keys():
            self._children.troubles.pop(key, None)
        for key, said in told.items():
            if self._children.troubles.get(key) != said:
                log.warning("%s", said)
        self._children.troubles |= told
        self._told_kept = set(told)

    async def _thin(self, chosen: list[Packed], plan: Plan) -> None:
        run, names = chosen[0].run, [each.name for each in chosen]
        said = await self._children.run(
            PROGRAM, self._shelf.folder / run, str(plan.around_s), str(plan.each_hour_s), *names
        )
        until_s = time.monotonic() + RETRY_S if said else float("inf")  # what a plan keeps whole is not asked again
        self._tried |= {(run, name, plan): until_s for name in names}
        self._refused.pop(run, None)
        if said:
            self._refused[run] = f"the run {run} could not be thinned and keeps its samples: {said}"
        else:
            log.info(
                "Raw samples of %s (%s to %s) were thinned by the plan of %s", run, names[0], names[-1], plan.words
            )

    async def _account_again(self, run: str) -> None:
        """A thinning was cut off before the account of the samples was made again."""
        assert self._due is not None
        del self._due[run]
        said = await self._children.run(PROGRAM, self._shelf.folder / run, "0", "0")
        if said and self._shelf.is_there(run):
            self._due[run] = time.monotonic() + RETRY_S
            log.warning("The account of the run %s could not be made again: %s", run, said)
