"""All rigs of this service: read from their settings files, added, changed, removed; software boards and their rigs.

One that fails never stops another, and none keeps the service from starting: it is shown with the reason.
"""

import asyncio
import logging
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import suppress
from dataclasses import replace
from pathlib import Path

from server.config import ConfigError, RigSettings, RigText
from server.demo_list import DemoList
from server.demo_rigs import Demo, Played, demo_name
from server.ingest.found_ports import PortSearch
from server.ingest.line import is_pty, place_of
from server.ingest.steady_clock import SteadyClock
from server.live.own_time import REAL_TIME, OwnTime
from server.live.records import ConnectionState
from server.motor_check import check_motor
from server.rig import Rig
from server.runs.library import Library
from server.settings.file import checked_rig, read_rig, remove_rig, rig_file, rig_names, write_rig

RIGS_MAX = 32  # of one service; each has two threads
READ_AGAIN_S = 1.0

log = logging.getLogger(__name__)


def _at(settings: RigSettings, wanted: str) -> RigSettings:
    """The same rig at a port as a person writes it, perhaps with its baud rate."""
    port, baud = place_of(wanted)
    return replace(settings, port=port, baud=settings.baud if baud is None else baud)


class Rigs:
    """Rigs by name, in the order in which they came. All methods are called on the event loop's thread.

    `data` is the folder of everything the service keeps (rigs/NAME.toml, runs/...); `search` finds ports for new rigs;
    `demo_list` knows what the demo bench has.
    """

    def __init__(self, data: Path, search: PortSearch | None = None, demo_list: DemoList | None = None) -> None:
        self.data = data
        self.search = search or PortSearch()
        self.demo_list = demo_list or DemoList()
        self._folder = data / "rigs"
        self._clock = SteadyClock()
        self._rigs: dict[str, Rig] = {}
        self._demos: dict[str, Demo] = {}
        self._playing = asyncio.Lock()
        self._library: Library | None = None
        self._not_recorded = ""
        self._wanted: dict[str, str] = {}
        self._reading_again: asyncio.Task[None] | None = None

    @property
    def library(self) -> Library | None:
        """The runs of this service; None before it has started and where their folder cannot be used."""
        return self._library

    def utc_s(self) -> float:
        """The service's clock: UTC seconds that never step."""
        return self._clock.utc_s()

    def __iter__(self) -> Iterator[Rig]:
        return iter(list(self._rigs.values()))

    def get(self, name: str) -> Rig | None:
        return self._rigs.get(name)

    async def start(self, wanted: dict[str, str] | None = None, demos: Sequence[Played] = ()) -> None:
        """Start every rig that has a settings file, those of `wanted` and software boards that play `demos`.

        `wanted`: name -> PORT or PORT@BAUD.
        A wanted rig without a settings file gets one, unless its port is a pty; one that has its file is moved to the
        port for this time only.
        """
        self._wanted = wanted or {}
        with suppress(OSError):  # for a person's files; who writes there is told why that fails
            self._folder.mkdir(parents=True, exist_ok=True)
        await asyncio.to_thread(self._open_library)
        for name in dict.fromkeys([*self._wanted, *rig_names(self._folder)]):
            if len(self._rigs) >= RIGS_MAX - len(demos):
                log.error("The rig %s is not started: there are %d already", name, len(self._rigs))
                continue
            await self._begin(await asyncio.to_thread(self._read, name, self._wanted.get(name)))
        self._reading_again = asyncio.create_task(self._read_again())
        for played in demos:
            await self._play(played)
        if demos:
            self._rigs = {rig.name: rig for rig in sorted(self, key=lambda rig: not rig.demo)}  # they were asked for

    async def stop(self) -> None:
        """Stop all boards and rigs, at the same time; returns when nothing is left."""
        if self._reading_again is not None:
            self._reading_again.cancel()
        demos, rigs = list(self._demos.values()), list(self._rigs.values())
        self._demos, self._rigs = {}, {}
        stopping = [*(demo.stop() for demo in demos), *(rig.stop() for rig in rigs)]
        for result in await asyncio.gather(*stopping, return_exceptions=True):
            if isinstance(result, BaseException):
                log.error("A rig did not stop in order", exc_info=result)
        if self._library is not None:
            self._library.close()
            self._library = None

    async def add(self, settings: RigSettings) -> Rig:
        """Write the settings file, unless the port is a pty, and start the rig.

        Raises ConfigError (a sentence) and then writes nothing.
        """
        if settings.name in self._rigs:
            raise ConfigError("", None, f'there is a rig "{settings.name}" already', "choose another name")
        return await self._begin(self._made(await asyncio.to_thread(self._new, settings)))

    async def change(self, name: str, settings: RigSettings) -> Rig:
        """The same for a rig that exists; KeyError if it does not."""
        rig = self._rigs[name]
        if rig.demo:
            raise ConfigError(
                "", None, f"{name} is a demo rig and keeps no settings", "add a rig for a board of your own"
            )
        await rig.change_settings(await asyncio.to_thread(self._written, replace(settings, name=name)))
        return rig

    async def remove(self, name: str) -> None:
        """Stop the rig; its settings file is kept as NAME.toml.previous. KeyError if there is none.

        Raises ConfigError where the file cannot be put away; then the rig goes on.
        """
        rig = self._rigs[name]
        try:
            await asyncio.to_thread(remove_rig, self._folder, name)
        except OSError as error:
            what = f"the settings of {name} cannot be put away ({error.strerror})"
            raise ConfigError(str(self._folder), None, what, "make the folder writable") from error
        del self._rigs[name]
        await rig.stop("the rig was removed")

    def demos(self) -> dict[str, Played]:
        """What software boards play now, by the rigs that watch them."""
        return {name: demo.played for name, demo in self._demos.items() if not demo.ended}

    async def start_demo(self, motor: str, story: str = "", pace: float = 1.0) -> Rig:
        """Make a rig and start a software board for it; how that goes is shown as its connection.

        What is played already is not started again; what has ended is, and what happened before stays in its rig.
        Raises ValueError for a motor or story that is not on the bench, DemoBoardError where that cannot be asked.
        """
        await self.demo_list.check(motor, story)
        async with self._playing:  # who asks twice at once gets the same rig twice
            return await self._play(Played(motor, story, pace))

    async def _play(self, played: Played) -> Rig:
        running = next((name for name, demo in self._demos.items() if demo.played == played), None)
        before = None if running is None else self._rigs[running]
        if running is not None and before is not None:
            if not (self._demos[running].ended or before.view.connection.state is ConnectionState.REFUSED):
                return before
            await self.stop_demo(running)
        name = running or demo_name(played, self._rigs)
        time = OwnTime(played.pace, self.utc_s()) if before is None else before.view.time
        rig = self._made(RigText("", RigSettings(name), {}), played, time=time)
        if before is not None:
            rig.view.events.extend(before.view.events)
        await self._begin(rig)
        self._demos[name] = Demo(played, rig)
        return rig

    async def stop_demo(self, name: str) -> None:
        """Stop the software board and its rig; KeyError if there is no demo rig of that name."""
        demo = self._demos.pop(name)
        del self._rigs[name]
        await demo.stop("the demo motor was stopped")

    def _open_library(self) -> None:
        try:
            self._library = Library(self.data / "runs")
        except (OSError, sqlite3.Error) as error:
            reason = getattr(error, "strerror", None) or error
            self._not_recorded = f"the folder of the runs, {self.data / 'runs'}, cannot be used ({reason})"
            log.error("Nothing is recorded: %s", self._not_recorded)

    def _made(
        self,
        text: RigText,
        played: Played | None = None,
        refused: ConfigError | None = None,
        time: OwnTime = REAL_TIME,
    ) -> Rig:
        motor = played.motor if played else ""
        rig = Rig(text, lambda: time.of(self.utc_s()), self._library, self._not_recorded, motor, refused)
        rig.view.time, rig.view.demo_story = time, played.story if played else ""
        return rig

    def _read(self, name: str, port: str | None) -> Rig:
        """The rig of a settings file, refused with the sentence where the file cannot be used."""
        try:
            if port is not None and name not in rig_names(self._folder):
                return self._made(self._new(RigSettings(name, port=port)))
            return self._made(self._text(name))
        except ConfigError as error:
            return self._made(RigText(error.file, RigSettings(name), {}), refused=error)

    def _text(self, name: str) -> RigText:
        """The settings file of a rig, on the port that was wanted at the start. Raises ConfigError."""
        text = read_rig(self._folder, name)
        check_motor(text)
        return replace(text, settings=_at(text.settings, self._wanted.get(name, text.settings.port)))

    async def _read_again(self) -> None:
        """Settings files that were refused are read again, so that a correction needs no new start."""
        while True:
            await asyncio.sleep(READ_AGAIN_S)
            for rig in [rig for rig in self if rig.refusal and rig_file(self._folder, rig.name).exists()]:
                try:
                    await rig.change_settings(self._text(rig.name))
                except ConfigError as error:
                    if str(error) != rig.refusal:
                        await rig.refuse_settings(error)

    def _new(self, settings: RigSettings) -> RigText:
        """Of a rig on a pty nothing is kept: at the next start its name may be a shell's."""
        settings = _at(settings, settings.port)
        if not is_pty(settings.port):
            return self._written(settings)
        check_motor(checked_rig(settings))
        return RigText("", settings, {})

    def _written(self, settings: RigSettings) -> RigText:
        """The settings on disk, after everybody has agreed to them."""
        check_motor(checked_rig(settings))
        try:
            return write_rig(self._folder, settings)
        except OSError as error:
            what = f"the settings of {settings.name} cannot be written ({error.strerror})"
            raise ConfigError(str(self._folder), None, what, "make room or make the folder writable") from error

    async def _begin(self, rig: Rig) -> Rig:
        if len(self._rigs) >= RIGS_MAX:
            raise ConfigError("", None, f"there are {RIGS_MAX} rigs already", "remove one that is not used")
        self._rigs[rig.name] = rig
        await rig.start()
        return rig
