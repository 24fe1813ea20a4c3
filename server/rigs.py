"""All rigs of this service: read from their settings files, added, changed, removed; software boards and their rigs.

One that fails never stops another, and none keeps the service from starting: it is shown with the reason.
"""

import asyncio
import logging
import sqlite3
from collections.abc import Iterator, Sequence
from contextlib import suppress
from pathlib import Path
from typing import Any

from server.calibration.files import CalibrationFiles
from server.config import ConfigError, RigSettings, RigText
from server.demo_list import DemoList
from server.demo_rigs import Demo, Played, demo_name
from server.ingest.found_ports import PortSearch
from server.ingest.steady_clock import SteadyClock
from server.keeping_room import with_room
from server.live.own_time import REAL_TIME, OwnTime
from server.live.records import ConnectionState
from server.notify.delivery import Delivery
from server.plan_files import PlanFiles
from server.recorded import Recorded
from server.rig import Rig
from server.rig_files import RigFiles, check_apart, check_change
from server.runs.library import Library

RIGS_MAX = 32  # of one service; each has two threads
READ_AGAIN_S = 1.0

log = logging.getLogger(__name__)


class Rigs:
    """Rigs by name, in the order in which they came. All methods are called on the event loop's thread.

    `data` is the folder of everything the service keeps (rigs/NAME.toml, runs/...); `search` finds ports for new rigs;
    `demo_list` knows what the demo bench has.
    """

    def __init__(self, data: Path, search: PortSearch | None = None, demo_list: DemoList | None = None) -> None:
        self.data = data
        self.search = search or PortSearch()
        self.demo_list = demo_list or DemoList()
        self.files = RigFiles(data / "rigs")
        self.plans = PlanFiles(data / "plans")
        self.calibrations = CalibrationFiles(data / "calibration")
        self.calibrations_turn = asyncio.Lock()  # who reads or writes these files has it
        self.clock = SteadyClock()
        self.delivery = Delivery(data, self.utc_s)
        self._rigs: dict[str, Rig] = {}
        self._demos: dict[str, Demo] = {}
        self._playing = asyncio.Lock()
        self._library: Library | None = None
        self.recorded: Recorded | None = None  # what can be done with recorded runs; None as for `library`
        self._not_recorded = ""
        self._reading_again: asyncio.Task[None] | None = None

    @property
    def library(self) -> Library | None:
        """The runs of this service; None before it has started and where their folder cannot be used."""
        return self._library

    def utc_s(self) -> float:
        """The service's clock: UTC seconds that never step."""
        return self.clock.utc_s()

    def __iter__(self) -> Iterator[Rig]:
        return iter(list(self._rigs.values()))

    def get(self, name: str) -> Rig | None:
        return self._rigs.get(name)

    async def start(self, wanted: dict[str, str] | None = None, demos: Sequence[Played] = ()) -> None:
        """Start every rig that has a settings file, those of `wanted` and software boards that play `demos`.

        `wanted`: name -> PORT or PORT@BAUD. A wanted rig without a settings file gets one, unless its port is a pty;
        one that has its file is moved to the port for this time only.
        """
        self.files.wanted = wanted or {}
        with suppress(OSError):  # for a person's files; who writes there is told why that fails
            self.files.folder.mkdir(parents=True, exist_ok=True)
        await asyncio.to_thread(self.delivery.start)
        await asyncio.to_thread(self._open_library)
        if self._library is not None:
            self.recorded = Recorded(self._library, self.utc_s, self.__iter__)
            self.recorded.start()
        await asyncio.to_thread(self.calibrations.load)
        for refusal in self.calibrations.refused.values():
            log.error("A calibration is not used: %s", refusal)
        for name in dict.fromkeys([*self.files.wanted, *self.files.names()]):
            if len(self._rigs) >= RIGS_MAX - len(demos):
                log.error("The rig %s is not started: there are %d already", name, len(self._rigs))
                continue
            await self._begin(await asyncio.to_thread(self._read, name, self.files.wanted.get(name)))
        self._reading_again = asyncio.create_task(self._read_again())
        for played in demos:
            await self._play(played)
        if demos:
            self._rigs = {rig.name: rig for rig in sorted(self, key=lambda rig: not rig.demo)}  # they were asked for

    async def stop(self) -> None:
        """Stop all boards and rigs, at the same time; returns when nothing is left."""
        if self._reading_again is not None:
            self._reading_again.cancel()
        if self.recorded is not None:
            await self.recorded.stop()
        demos, rigs = list(self._demos.values()), list(self._rigs.values())
        self._demos, self._rigs = {}, {}
        stopping = [*(demo.stop() for demo in demos), *(rig.stop() for rig in rigs)]
        for result in await asyncio.gather(*stopping, return_exceptions=True):
            if isinstance(result, BaseException):
                log.error("A rig did not stop in order", exc_info=result)
        await asyncio.to_thread(self.delivery.stop)
        if self._library is not None:
            self._library.close()
            self._library = None

    async def judge(self, settings: RigSettings, name: str = "") -> None:
        """Raises ConfigError where `add` or, of the rig `name`, `change` would refuse these settings; changes nothing.
        KeyError where there is no such rig."""
        if name:
            self._check_change(self._rigs[name], settings)
        elif settings.name in self._rigs:
            raise ConfigError("", None, f'there is a rig "{settings.name}" already', "choose another name")
        if not (name and self._rigs[name].demo):
            await asyncio.to_thread(self.files.judge, settings)

    async def add(self, settings: RigSettings) -> Rig:
        """Write the settings file, unless the port is a pty, and start the rig.

        Raises ConfigError (a sentence) and then writes nothing.
        """
        if settings.name in self._rigs:
            raise ConfigError("", None, f'there is a rig "{settings.name}" already', "choose another name")
        check_apart(settings.name, self._rigs)
        return await self._begin(self._made(await asyncio.to_thread(self.files.new, settings)))

    async def change(self, name: str, settings: RigSettings) -> Rig:
        """The same for a rig that exists, perhaps under another name; KeyError if it does not."""
        rig = self._rigs[name]
        self._check_change(rig, settings)
        if rig.demo:
            await rig.change_settings(RigText("", settings, {}))
            return rig
        if settings.name != name:
            return await self._rename(rig, settings)
        await rig.change_settings(await asyncio.to_thread(self.files.write, settings))
        return rig

    async def undo(self, name: str) -> Rig:
        """The settings file before the last change holds again; undone again, the change. KeyError without the rig."""
        rig = self._rigs[name]
        await rig.change_settings(await asyncio.to_thread(self.files.undo, name))
        return rig

    async def look_at_file(self, name: str) -> None:
        """Take what a person has written into the rig's file; KeyError without the rig.

        What cannot be used is told; a rig that runs goes on with what held before.
        """
        rig = self._rigs[name]
        if not await asyncio.to_thread(self.files.changed, name) and not rig.refusal:
            return
        try:
            await rig.change_settings(await asyncio.to_thread(self.files.read, name))
        except ConfigError as error:
            if str(error) != rig.refusal:
                await rig.refuse_settings(error)

    def _check_change(self, rig: Rig, settings: RigSettings) -> None:
        check_change(rig.settings, settings, rig.demo, rig.description, self._rigs)

    async def _rename(self, rig: Rig, settings: RigSettings) -> Rig:
        """Its run is closed; the runs so far keep the name that they were recorded under."""
        text = await asyncio.to_thread(self.files.write, settings, rig.name)
        await asyncio.to_thread(self.files.remove, rig.name)
        await asyncio.to_thread(self.plans.rename, rig.name, settings.name)
        del self._rigs[rig.name]
        await rig.stop(f"the rig was renamed to {settings.name}")
        return await self._begin(self._made(text))

    async def remove(self, name: str) -> None:
        """Stop the rig; its settings file is kept as NAME.toml.previous. KeyError if there is none.

        Raises ConfigError where the file cannot be put away; then the rig goes on.
        """
        rig = self._rigs[name]
        await asyncio.to_thread(self.files.remove, name)
        del self._rigs[name]
        await rig.stop("the rig was removed")

    async def look_at_calibrations(self) -> None:
        """Take what a person has written into calibration files, for connected boards too; who asks has the turn."""
        for serial in await asyncio.to_thread(self.calibrations.look_again):
            if refusal := self.calibrations.refused.get(serial):
                log.error("A calibration file cannot be used: %s", refusal)
            else:
                self.calibrated(serial)

    def calibrated(self, serial: str) -> None:
        """What holds of that board has changed: tell every rig, for any may have it."""
        for rig in self:
            rig.calibrate(serial)

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

    async def tell_demo(self, name: str, order: dict[str, Any]) -> dict[str, Any]:
        """What a person changes on a demo motor while it runs; the answer of its software board.

        KeyError if there is no demo rig of that name: a real board is only ever listened to. DemoBoardError,
        RefusedSettingError.
        """
        return await self._demos[name].tell(order)

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
        its = self._library, self._not_recorded, motor, refused, self.calibrations.texts
        rig = Rig(text, lambda: time.of(self.utc_s()), *its)
        rig.view.recorded = with_room(rig.view.recorded, lambda: self.recorded.room.room_s if self.recorded else None)
        rig.view.time, rig.view.demo_story = time, played.story if played else ""
        return rig

    def _read(self, name: str, port: str | None) -> Rig:
        """The rig of a settings file, refused with the sentence where the file cannot be used."""
        try:
            if port is not None and name not in self.files.names():
                return self._made(self.files.new(RigSettings(name, port=port)))
            return self._made(self.files.at_start(name))
        except ConfigError as error:
            return self._made(RigText(error.file, RigSettings(name), {}), refused=error)

    async def _read_again(self) -> None:
        """What a person writes into a settings file holds without a new start, a correction of a refused one too."""
        while True:
            await asyncio.sleep(READ_AGAIN_S)
            self.clock.look()
            async with self.calibrations_turn:
                await self.look_at_calibrations()
            for rig in [rig for rig in self if not rig.demo and self.files.file(rig.name)]:
                with suppress(KeyError):  # removed meanwhile
                    await self.look_at_file(rig.name)

    async def _begin(self, rig: Rig) -> Rig:
        if len(self._rigs) >= RIGS_MAX:
            raise ConfigError("", None, f"there are {RIGS_MAX} rigs already", "remove one that is not used")
        self._rigs[rig.name] = rig
        await rig.start()
        return rig
