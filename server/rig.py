"""A running rig: port -> recorder first -> pipeline -> view. What fails in here is shown, and stops no other rig."""

import asyncio
import logging
import sqlite3
from collections.abc import Callable, Mapping
from dataclasses import replace

from server.away import NOT_KEPT_UP, Away, too_slow_words
from server.config import ConfigError, MotorSettings, RigSettings, RigText
from server.ingest.intake import Intake
from server.ingest.report import NOT_READ, PortReport
from server.live.records import Connection, ConnectionState, Shown, settings_refused
from server.live.records import Recording as RecordingShown
from server.live.view import View
from server.pipeline import Description, Output, Pipeline
from server.readings import Event
from server.runs.library import Library
from server.runs.recording import Recording
from server.runs.writer import Writing
from server.stream.scaling import NAME_MAX

log = logging.getLogger(__name__)


class Rig:
    """One board with its motor. All methods are called on the event loop's thread.

    `settings` as they hold now; `demo_motor`: the motor of the demo bench that this service runs for it, or empty;
    `view` is what viewers see; `refused`: why the settings file cannot be used, if so. Without a `library` nothing is
    recorded, and `not_recorded` says why.
    """

    def __init__(
        self,
        text: RigText,
        utc_s: Callable[[], float],
        library: Library | None,
        not_recorded: str = "",
        demo_motor: str = "",
        refused: ConfigError | None = None,
        calibrations: Mapping[str, str] | None = None,
    ) -> None:
        self.name = text.settings.name
        self.settings: RigSettings = text.settings
        self.demo = bool(demo_motor)
        self.view = View(self.name, demo_motor, self._recorded)
        self._refused = refused
        self._told = ""  # the last trouble that the terminal was told, until the board lives again
        self._utc_s = utc_s
        self._library, self._calibrations, self._not_recorded = library, calibrations, not_recorded
        self.recording: Recording | None = None
        self._intake: Intake | None = None
        self._giving_up: asyncio.Task[None] | None = None
        self._turn = asyncio.Lock()  # one change at a time, whoever asks for it
        self._stopped, self._away = False, Away()
        self._taken_utc_s = 0.0  # when the newest bytes came that were computed
        self._failed = self._undescribable = False  # the board's last description could not be used
        self._serial = ""  # of the board that this rig knows
        self._show_motor()

    @property
    def refusal(self) -> str:
        """Why the settings file cannot be used, or empty."""
        return "" if self._refused is None else str(self._refused)

    async def start(self) -> None:
        async with self._turn:
            await self._start()

    async def _start(self) -> None:
        if self._stopped:
            return
        if self._refused is not None:
            self._connect(settings_refused(self._refused))
        elif not self.settings.port:
            detail = "Choose one of the ports, or start a demo motor."
            self._say(ConnectionState.NO_BOARD, "No port is set for this rig", detail)
        else:
            await self._open_port()

    async def stop(self, ended: str = "") -> None:
        """Close the port for good, take what it has handed over, bring the last bytes to the disk.

        `ended`: why the rig is no more; its run is closed. Empty: the service ends, and will go on with the run.
        """
        async with self._turn:
            self._stopped = True
            if self._giving_up is not None:
                self._giving_up.cancel()
            await self._close_port(gap=False)  # no cable is out: the recording says why nothing more comes
            recording, self.recording = self.recording, None
            if recording is not None:
                await asyncio.to_thread(recording.stop, self._utc_s(), ended)

    def end_run(self) -> str:
        """End the run that is being recorded, and tell its name, or "" if none was; the next one opens by itself."""
        self.view.instead_of = ""
        if self.recording is None:
            return ""
        name = self.recording.run
        self._show(self.recording.end_run(self._utc_s()))
        return name

    async def change_settings(self, text: RigText) -> None:
        """These settings hold from now on; another port is opened at once."""
        async with self._turn:
            before, self.settings = self.settings, text.settings
            self.view.instead_of, self._refused = "", None
            if self.recording is not None:
                self._show(self.recording.change(self.settings, self._utc_s()))
            self._show_motor()
            if (before.port, before.baud) != (self.settings.port, self.settings.baud) or self._intake is None:
                await self._close_port()
                await self._start()

    def calibrate(self, serial: str) -> None:
        if self.recording is not None:  # the port has been open
            self._show(self.recording.calibrate(serial, self._utc_s()))

    async def connect(self, url: str) -> None:
        """Use this port from now on; empty: none."""
        await self.change_settings(RigText("", replace(self.settings, port=url), {}))

    def say_starting(self, text: str) -> None:
        """What is being waited for before there is a port."""
        self._say(ConnectionState.CONNECTING, text, "")

    async def refuse_settings(self, error: ConfigError) -> None:
        """The settings file cannot be used, for this reason now; a rig that runs goes on with what held before."""
        async with self._turn:
            self._refused = error
            if self._intake is None:
                self._connect(settings_refused(error))
            else:
                log.warning("%s goes on with the settings that it had: %s", self.name, error)

    @property
    def description(self) -> Description | None:
        """What the board that is there says of itself; None: none is, or not yet."""
        return None if self.pipeline is None else self.pipeline.description

    async def end(self, text: str) -> None:
        """The software board has ended: how. What came from it stays to be seen."""
        async with self._turn:
            await self._close_port()
            self._say(ConnectionState.ENDED, text, "")

    async def _open_port(self) -> None:
        if self.recording is None:
            self.recording = await asyncio.to_thread(self._begin_recording)
        its = self.settings
        self._intake = Intake(its.port, its.baud, self._utc_s, self._take_chunk, self._take_report, self._flooded)

    def _begin_recording(self) -> Recording:
        try:
            newest = None if self._library is None else self._library.newest(self.name)
            self._serial = self._serial or ("" if newest is None else newest.serial)
            return Recording(self.settings, self._library, self._not_computed, self._calibrations, self._utc_s())
        except (OSError, sqlite3.Error) as error:
            self._not_recorded = f"the runs cannot be read ({error})"
            log.exception("%s is not recorded", self.name)
            return Recording(self.settings, None, self._not_computed, self._calibrations)

    async def _close_port(self, why: str = "", gap: bool = True) -> None:
        """`gap`: the run that is open goes on without it; `why`, where the board is not lost."""
        intake, self._intake = self._intake, None
        if intake is None:
            return
        for left in await intake.close():  # nobody had time to compute them; a replay will
            if self.recording is not None:
                self.recording.keep_uncomputed(left.data, left.arrival_s)
        if gap:
            self._opened(False, self._taken_utc_s if why else self._utc_s(), why)

    def _take_chunk(self, data: bytes, arrival_s: float) -> None:
        if self.recording is None:
            return
        self._taken_utc_s = arrival_s
        try:
            self._show(self.recording.chunk(data, arrival_s))
        except Exception as error:  # ours, whatever it is: the other rigs must go on
            self._not_computed(error)

    def _not_computed(self, error: Exception) -> None:
        """Ours, whatever it is: the bytes are recorded, and the other rigs go on."""
        if not self._failed:
            log.error("What came from %s could not be computed", self.name, exc_info=error)
            detail = "the mistake is Slipring's; its terminal tells more, and the recording holds what came"
            text = "Some of what came could not be computed"
            self.view.tell(Event("mistake", 0.0, text, detail, decisive=True), self._utc_s())
        self._failed = True
        self._ask()  # a part of the description may have been lost by it

    def _flooded(self) -> None:
        """What costs more than this PC has would hold up the other rigs for ever."""
        self._giving_up = asyncio.create_task(self._give_up())

    async def _give_up(self) -> None:
        """Close the port and try again after a while, unless somebody has opened one meanwhile."""
        async with self._turn:
            await self._close_port(NOT_KEPT_UP)
            now_utc_s, (text, detail) = self._utc_s(), too_slow_words(self.view.demo_motor)
            pause_s = self._away.next_pause_s(now_utc_s)
            self.view.tell(Event("too_slow", 0.0, NOT_KEPT_UP, detail, decisive=True), now_utc_s)
            self._connect(Connection(ConnectionState.REFUSED, text, detail, now_utc_s, self.settings.port, pause_s))
        await asyncio.sleep(pause_s)
        async with self._turn:
            if self._intake is None and not self._stopped:
                await self._start()

    def _take_report(self, report: PortReport) -> None:
        state, since_utc_s = ConnectionState(report.state), report.since_utc_s
        self._connect(Connection(state, report.text, report.detail, since_utc_s, report.port, report.retry_s))
        self._opened(report.is_open, report.since_utc_s)

    def _opened(self, is_open: bool, utc_s: float, why: str = "") -> None:
        """Tell the recording when the port opens and when it is gone."""
        if self.recording is None or is_open == self._away.is_open:
            return
        self._away.opened(is_open, self.recording.writing.run, utc_s)
        self._show(self.recording.connected(utc_s) if is_open else self.recording.disconnected(utc_s, why))

    @property
    def pipeline(self) -> Pipeline | None:
        return None if self.recording is None else self.recording.pipeline

    def _show(self, outputs: list[Output]) -> None:
        """What the bytes brought to light."""
        if self.pipeline is None:
            return
        for output in outputs:
            self._look(output)
            self.view.take(output, output.clock)

    def _recorded(self) -> RecordingShown:
        writing = Writing() if self.recording is None else self.recording.writing
        return self._away.recorded(writing, self._not_recorded)

    def _look(self, output: Output) -> None:
        """What the pipeline said that the rig itself must act on."""
        if output.described is not None:
            if self._undescribable:
                self._undescribable = False
                self._say(ConnectionState.LIVE, "", "")
            self._show_motor()
            self._met(output.described.identity.serial)
        for report in output.damage:
            if report.kind in NOT_READ:
                self._undescribable = True
                self._say(ConnectionState.REFUSED, report.text, NOT_READ[report.kind])
        if output.status is not None and not output.status.streaming:  # it has started anew since it was asked
            self._ask()
        unread = self.pipeline is not None and self.description is None and not self._undescribable
        if self._serial and output.frames and unread:
            self._ask()  # it started anew, or another one is at its place

    def _met(self, serial: str) -> None:
        """A board has said who it is: settings, the plate above all, were made for the one before it."""
        before, self._serial = self._serial, serial
        if before in ("", serial):
            return
        self.view.instead_of = before
        detail = "the settings of this rig hold for it too; a run of its own is recorded"
        text = f"Another board came: {serial} instead of {before}"
        self.view.tell(Event("another_board", 0.0, text, detail, decisive=True), self._utc_s())
        log.warning("%s: board %s answers where %s did; the rig's settings hold for it too", self.name, serial, before)

    def _ask(self) -> None:
        if self._intake is not None:
            self._intake.ask()

    def _show_motor(self) -> None:
        its = self.settings
        self.view.speed_unit, self.view.limits, self.view.wires = its.speed_unit, its.limits, its.wires
        if self.pipeline is not None:
            motor, source = self.pipeline.motor, self.pipeline.motor_source
            self.view.set_aside = self.pipeline.set_aside
        else:
            motor, source = self.settings.motor or MotorSettings(), "settings" if self.settings.motor else ""
        if motor.type != self.view.motor.type:  # other quantities make sense for it
            self.view.forget()
        self.view.motor = Shown(motor.name[:NAME_MAX], motor.type, motor.plate, source)

    def _say(self, state: ConnectionState, text: str, detail: str) -> None:
        self._connect(Connection(state, text, detail, self._utc_s(), self.settings.port))

    def _connect(self, connection: Connection) -> None:
        """Show how the connection is; tell the terminal of what is bad, once."""
        self.view.connection = connection
        if connection.state is ConnectionState.LIVE:
            self._told = ""
        if not connection.state.is_bad or connection.text == self._told:
            return
        if self.demo and connection.state is not ConnectionState.ENDED:
            return  # the port of a software board that ended is gone too: how it ended says more
        self._told = connection.text
        where = f"({connection.file})" if connection.file else ""
        said = " ".join(filter(None, (f"{connection.text.rstrip('.')}.", connection.detail, where)))
        log.warning("%s: %s", self.name, said)
