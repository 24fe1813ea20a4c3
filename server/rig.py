"""A running rig: port -> recorder first -> pipeline -> view. What fails in here is shown, and stops no other rig."""

import asyncio
import logging
from collections.abc import Callable
from dataclasses import dataclass, replace
from pathlib import Path

from server.config import RigSettings, RigText
from server.ingest.inbox import Inbox
from server.ingest.port import Port
from server.ingest.report import PortReport
from server.live.records import Connection, ConnectionState, Shown
from server.live.view import View
from server.pipeline import Output, Pipeline

log = logging.getLogger(__name__)

NO_PORT = "No port is set for this rig"


@dataclass(frozen=True, slots=True)
class _Chunk:
    data: bytes
    arrival_s: float


class Rig:
    """One board with its motor. All methods are called on the event loop's thread.

    `settings` as they hold now; `demo`: a software board started by this service; `view` is what viewers see;
    `refusal`: why the settings file cannot be used, or empty.
    """

    def __init__(
        self, text: RigText, utc_s: Callable[[], float], data: Path, demo: bool = False, refusal: str = ""
    ) -> None:
        self.name = text.settings.name
        self.settings: RigSettings = text.settings
        self.demo = demo
        self.refusal = refusal
        self.view = View(self.name)
        self._utc_s = utc_s
        self._pipeline = Pipeline(self.settings)
        self._failed = False
        self._show_motor()
        self._port: Port | None = None
        self._inbox: Inbox[_Chunk | PortReport] | None = None

    async def start(self) -> None:
        if self.refusal:
            self._say(ConnectionState.REFUSED, self.refusal, "Correct the file and start the service again.")
        elif not self.settings.port:
            self._say(ConnectionState.NO_BOARD, NO_PORT, "Choose one of the ports, or start a demo motor.")
        else:
            self._open_port()

    async def stop(self) -> None:
        """Close the port, take what it has handed over, close the recording in order."""
        await self._close_port()

    def end_run(self) -> None:
        """End the run that is being recorded; the next one opens by itself."""

    async def change_settings(self, text: RigText) -> None:
        """These settings hold from now on; another port is opened at once."""
        before, self.settings = self.settings, text.settings
        self.refusal = ""
        self.view.take(self._pipeline.change(self.settings), self._pipeline.clock)
        self._show_motor()
        if (before.port, before.baud) != (self.settings.port, self.settings.baud) or self._port is None:
            await self._close_port()
            await self.start()

    def say_starting(self, text: str) -> None:
        """What is being waited for before there is a port."""
        self._say(ConnectionState.CONNECTING, text, "")

    def refuse(self, text: str, detail: str) -> None:
        """There will be no port: why, and what to do."""
        self._say(ConnectionState.REFUSED, text, detail)

    async def connect(self, url: str) -> None:
        """Use this port from now on."""
        await self._close_port()
        self.settings = replace(self.settings, port=url)
        await self.start()

    def _open_port(self) -> None:
        inbox: Inbox[_Chunk | PortReport] = Inbox(asyncio.get_running_loop(), self._take)
        self._inbox = inbox
        self._port = Port(
            self.settings.port,
            self.settings.baud,
            self._utc_s,
            lambda data, arrival_s: inbox.put(_Chunk(data, arrival_s), len(data)),
            inbox.put,
        )
        self._port.start()

    async def _close_port(self) -> None:
        port, inbox = self._port, self._inbox
        self._port = self._inbox = None
        if port is not None and inbox is not None:
            await asyncio.to_thread(port.stop)  # its thread may be waiting for a line
            inbox.close()

    def _take(self, thing: _Chunk | PortReport) -> None:
        if isinstance(thing, PortReport):
            self.view.connection = Connection(
                ConnectionState(thing.state), thing.text, thing.detail, thing.since_utc_s, thing.port, thing.retry_s
            )
        else:
            self._take_chunk(thing)

    def _take_chunk(self, chunk: _Chunk) -> None:
        try:
            output = self._pipeline.push(chunk.data, chunk.arrival_s)
            self._look(output)
            self.view.take(output, self._pipeline.clock)
        except Exception:  # ours, whatever it is: the other rigs and the recording go on, this one begins anew
            if not self._failed:
                log.exception("The bytes of %s could not be computed; it begins anew", self.name)
            self._failed = True
            self._pipeline = Pipeline(self.settings)
            self._ask()

    def _look(self, output: Output) -> None:
        """What the pipeline said that the rig itself must act on."""
        if output.described is not None:
            self._show_motor()
        for report in output.damage:
            if report.kind == "description":
                self._say(ConnectionState.REFUSED, report.text, "Put other firmware on the board.")
        if output.status is not None and not output.status.streaming:  # it has started anew since it was asked
            self._ask()

    def _ask(self) -> None:
        if self._port is not None:
            self._port.ask()

    def _show_motor(self) -> None:
        motor = self._pipeline.motor
        self.view.motor = Shown(motor.name, motor.type, motor.plate, self._pipeline.motor_source)

    def _say(self, state: ConnectionState, text: str, detail: str) -> None:
        self.view.connection = Connection(state, text, detail, self._utc_s(), self.settings.port)
