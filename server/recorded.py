"""All that is done with recorded runs: listed, noted, played, deleted and brought back. Records nothing itself.

All methods are called on the event loop's thread; what touches the disk runs in another.
"""

import asyncio
import logging
from collections.abc import Callable, Iterable, Sequence

from server.comparing import Comparing
from server.exporting import Exporting
from server.keeping_evidence import KeepingEvidence
from server.keeping_room import KeepingRoom, plans_of
from server.low_priority import Children
from server.packing import Packing
from server.playing import Play
from server.rig import Rig
from server.runs.beside import write_note, write_tags
from server.runs.checks import remove_overdue_checks
from server.runs.library import Library, RunSummary
from server.runs.life import SOON_S
from server.runs.log.newest import trends_with_bounds
from server.runs.log.reading import Trends
from server.runs.segments import last_entry
from server.runs.shelf import Shelf, Shelved
from server.runs.trash import Trash
from server.summing_up import SummingUp

PLAYS_MAX = 4  # more than a person looks at; each computes as a rig does
TRASH_LOOK_S = 3600.0

log = logging.getLogger(__name__)


def held(rigs: Iterable[Rig]) -> list[str]:
    """The runs that rigs hold open, though nothing may come just now."""
    return [rig.recording.run for rig in rigs if rig.recording is not None]


class Recorded:
    """Of one library. `utc_s`: the service's clock; `rigs`: those that record into it now."""

    def __init__(self, library: Library, utc_s: Callable[[], float], rigs: Callable[[], Iterable[Rig]] = tuple) -> None:
        self.shelf = Shelf(library)
        children = Children()
        self.summing_up, self.packing = (
            SummingUp(self.shelf, children, lambda: held(rigs()), SOON_S),
            Packing(self.shelf, children),
        )
        self.exporting, self.comparing = Exporting(self.shelf), Comparing(self.shelf)
        self.room = KeepingRoom(self.shelf, children, utc_s, lambda: plans_of(rig.settings for rig in rigs()))
        self.troubles = children.troubles  # what cannot be done with runs now, in sentences
        self.evidence = KeepingEvidence(library.folder, rigs, children.troubles)
        self._trash = Trash(library)
        self._utc_s = utc_s
        self._plays: dict[str, Play] = {}
        self._turn = asyncio.Lock()  # one change at a time, whoever asks for it
        self._tasks: list[asyncio.Task[None]] = []

    def start(self) -> None:
        running = (
            self.summing_up.run(),
            self.packing.run(),
            self.exporting.run(),
            self.room.run(),
            self.evidence.run(),
            self._remove_overdue(),
        )
        self._tasks = [asyncio.create_task(each) for each in running]

    async def stop(self) -> None:
        plays, self._plays = list(self._plays.values()), {}
        for task in self._tasks:
            task.cancel()
        await asyncio.gather(*self._tasks, *(play.stop() for play in plays), return_exceptions=True)

    @property
    def plays(self) -> tuple[Play, ...]:
        """What is played now, in the order in which it was begun."""
        return tuple(self._plays.values())

    def playing(self, name: str) -> Play | None:
        """The play of this run."""
        return self._plays.get(name)

    async def play(self, shelved: Shelved) -> Play:
        """Play a run; who asks for one that is played already gets the same. One too many ends the oldest."""
        name = shelved.summary.name
        async with self._turn:
            if (there := self._plays.get(name)) is not None:
                return there
            play = await asyncio.to_thread(self._made, shelved)
            while len(self._plays) >= PLAYS_MAX:
                old = next(iter(self._plays))
                await self._plays.pop(old).stop()
            self._plays[name] = play
            play.start()
            return play

    async def stop_playing(self, name: str) -> None:
        """End a play; KeyError if there is none."""
        await self._plays.pop(name).stop()

    async def note(self, name: str, text: str) -> None:
        """Keep a person's words about a run. Raises OSError."""
        async with self._turn:
            await asyncio.to_thread(write_note, self.shelf.folder / name, text)

    async def tag(self, name: str, tags: Sequence[str]) -> None:
        """Keep a person's tags of a run in place of those before. Raises OSError."""
        async with self._turn:
            await asyncio.to_thread(write_tags, self.shelf.folder / name, tags)

    async def runs_of(self, rig: str, from_utc_s: float, to_utc_s: float) -> list[RunSummary]:
        """The runs of a rig that lie in a span, at least in part, the oldest first. Raises OSError."""
        return await asyncio.to_thread(self.shelf.within, rig, from_utc_s, to_utc_s)

    async def trends(
        self, runs: Sequence[RunSummary], ids: Sequence[str], span: tuple[float, float] | None, columns: int
    ) -> Trends:
        """Trends of readings from their logs, over `span` (UTC seconds) or from end to end of what they hold."""
        folders = [self.shelf.folder / each.name for each in runs]
        found = await asyncio.to_thread(trends_with_bounds, folders, ids, span, columns)
        for part in found.parts:
            if part.broken:
                self.shelf.log_is_broken(part.run)
        return found

    async def delete(self, name: str) -> None:
        """Put a run aside; it can be brought back for a while. Raises OSError."""
        async with self._turn:
            if name in self._plays:
                await self.stop_playing(name)
            await asyncio.to_thread(self._trash.delete, name, self._utc_s())

    async def undo(self, name: str) -> None:
        """Bring a deleted run back. Raises OSError."""
        async with self._turn:
            await asyncio.to_thread(self._trash.undo, name)

    async def empty(self, name: str) -> int:
        """Remove deleted runs for good, this one or (empty) all; how many. Raises OSError."""
        async with self._turn:
            return await asyncio.to_thread(self._trash.empty, name)

    @property
    def trash(self) -> Trash:
        """To look into it."""
        return self._trash

    def _made(self, shelved: Shelved) -> Play:
        summary, run = shelved.summary, self.shelf.folder / shelved.summary.name
        last = None if summary.closed_utc_s is not None else last_entry(run)
        to_utc_s = summary.closed_utc_s or (last.entry.utc_s if last else summary.opened_utc_s)
        return Play(run, summary, max(to_utc_s, summary.opened_utc_s), self.shelf.whole_digest(summary), self._utc_s)

    async def _remove_overdue(self) -> None:
        """What a person deleted long enough ago is removed for good."""
        while True:
            try:
                for name in await asyncio.to_thread(self._trash.remove_overdue, self._utc_s()):
                    log.info("The run %s, which was deleted a while ago, was removed for good", name)
                await asyncio.to_thread(remove_overdue_checks, self.shelf.folder, self._utc_s())
            except OSError as error:
                log.warning("Deleted runs or checks could not be removed (%s)", error.strerror or error)
            await asyncio.sleep(TRASH_LOOK_S)
