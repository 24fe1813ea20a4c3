"""A service for the tests of this folder: two rigs without ports behind the real application, on a real uvicorn."""

import asyncio
import contextlib
import socket
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from dataclasses import dataclass, field, replace
from pathlib import Path
from typing import Any, cast

import httpx2
import uvicorn

from server.access.entrance import Bench, Entrance
from server.access.permission import Kind
from server.access.sessions import Sessions
from server.calibration.files import CalibrationFiles
from server.calibration.text import parse_calibration
from server.config import ConfigError, RigSettings
from server.demo_board import DemoBoardError
from server.demo_list import DemoMotor, DemoStory
from server.demo_rigs import Played
from server.ingest.found_ports import PortSearch
from server.ingest.steady_clock import SteadyClock
from server.live.view import View
from server.notify.delivery import Delivery
from server.pipeline import Description, Pipeline
from server.plan_files import PlanFiles
from server.rig_files import RigFiles
from server.rigs import Rigs
from server.runs.recording import Recording
from server.web.app import create_app
from server.web.wire import web_server
from tests.server.web.raw import TOKEN

BENCH = "127.0.0.2"
BEARER = ("Authorization", f"Bearer {TOKEN}")


class BenchRig:
    """What the web asks of a rig; keeps what it was told to do."""

    def __init__(self, name: str) -> None:
        self.settings = RigSettings(name, port="/dev/ttyTEST")
        self.demo = False
        self.refusal = ""
        self.view = View(name)
        self.pipeline: Pipeline | None = None
        self.recording: Recording | None = None
        self.runs_ended = 0

    @property
    def name(self) -> str:
        return self.settings.name

    @property
    def description(self) -> Description | None:
        return None if self.pipeline is None else self.pipeline.description

    def calibrate(self, text: str, utc_s: float) -> None:
        if self.pipeline is not None:
            output = self.pipeline.calibrate(parse_calibration(text, ""), utc_s)
            self.view.take(output, output.clock)

    def end_run(self) -> str:
        self.runs_ended += 1
        return "20261125-1402-pump" if self.runs_ended == 1 else ""


class BenchList:
    """A demo bench of one motor; `complaint`: why it cannot be asked."""

    complaint = ""

    async def check(self, motor: str, story: str) -> None:
        if motor not in [each.key for each in await self.motors()]:
            raise ValueError(f"there is no demo motor {motor}")

    async def motors(self) -> tuple[DemoMotor, ...]:
        if self.complaint:
            raise DemoBoardError(self.complaint)
        stories = (DemoStory("stall", "a fan is held", 20.0),)
        return (DemoMotor("cabin_ventilator", "cabin ventilator", "a fan", "permanent_split_capacitor", stories),)


class BenchRigs:
    """What the web asks of the rigs."""

    def __init__(self, *names: str) -> None:
        self.rigs = {name: BenchRig(name) for name in names}
        self.played: dict[str, Played] = {}
        self.before: dict[str, RigSettings] = {}
        self.looked_at: list[str] = []
        self.calibrations_turn = asyncio.Lock()
        self.told: list[tuple[str, dict[str, Any]]] = []
        self.answer: dict[str, Any] | Exception = {}

    library: object = None
    data = Path("/no-such-folder")  # another one while it runs
    calibrations = CalibrationFiles(Path("no-folder"))
    recorded: object = None
    files = RigFiles(Path("/no-such-folder"))

    @property
    def plans(self) -> PlanFiles:
        return PlanFiles(self.data / "plans")

    clock = SteadyClock()
    search = PortSearch()
    demo_list = BenchList()
    delivery = Delivery(Path("/no-such-folder"), time.time)

    def utc_s(self) -> float:
        return 1_795_600_000.0 + time.monotonic()

    def __iter__(self) -> Iterator[BenchRig]:
        return iter(list(self.rigs.values()))

    def get(self, name: str) -> BenchRig | None:
        return self.rigs.get(name)

    async def judge(self, settings: RigSettings, name: str = "") -> None:
        if settings.stopped_rpm < 0:
            raise ConfigError("", None, "stopped_rpm = -1: this is not possible", "write 5.0", "rig.stopped_rpm")

    async def add(self, settings: RigSettings) -> BenchRig:
        if settings.baud < 300:
            raise ConfigError("", None, f"baud = {settings.baud}: too slow", "write 2000000")
        self.rigs[settings.name] = BenchRig(settings.name)
        self.rigs[settings.name].settings = settings
        return self.rigs[settings.name]

    async def change(self, name: str, settings: RigSettings) -> BenchRig:
        await self.judge(settings, name)
        self.before[name], self.rigs[name].settings = self.rigs[name].settings, replace(settings, name=name)
        return self.rigs[name]

    async def look_at_file(self, name: str) -> None:
        self.looked_at.append(name)

    async def undo(self, name: str) -> BenchRig:
        self.rigs[name].settings = self.before.pop(name)
        return self.rigs[name]

    async def remove(self, name: str) -> None:
        del self.rigs[name]

    async def look_at_calibrations(self) -> None:
        for serial in self.calibrations.look_again():
            if serial not in self.calibrations.refused:
                self.calibrated(serial)

    def calibrated(self, serial: str) -> None:
        for rig in self:
            rig.calibrate(self.calibrations.texts[serial], self.utc_s())

    def demos(self) -> dict[str, Played]:
        return self.played

    async def start_demo(self, motor: str, story: str, pace: float) -> BenchRig:
        if motor != "cabin_ventilator":
            raise ValueError(f"there is no demo motor {motor}")
        self.played["demo-1"] = Played(motor, story, pace)
        return await self.add(RigSettings("demo-1"))

    async def tell_demo(self, name: str, order: dict[str, Any]) -> dict[str, Any]:
        self.told.append((name, order))
        if isinstance(self.answer, Exception):
            raise self.answer
        return self.answer

    async def stop_demo(self, name: str) -> None:
        del self.rigs[name]


@dataclass
class Service:
    """A running service: its port, its rigs, and a client that asks as a plain script does."""

    port: int
    rigs: BenchRigs
    server: uvicorn.Server
    entrance: Entrance
    server_loop: asyncio.AbstractEventLoop = field(init=False)
    alive: Callable[[], bool] = field(init=False)

    def on_loop(self, call: Callable[[], None]) -> None:
        """Done where the service works, and waited for."""

        async def done() -> None:
            call()

        asyncio.run_coroutine_threadsafe(done(), self.server_loop).result(20)

    @property
    def url(self) -> str:
        return f"http://127.0.0.1:{self.port}"

    @property
    def client(self) -> httpx2.Client:
        """With the scripts' token; plain HTTP: no certificates to load."""
        return httpx2.Client(base_url=self.url, trust_env=False, verify=False, headers=dict([BEARER]))

    @property
    def stranger(self) -> httpx2.Client:
        """Without token or session."""
        return httpx2.Client(base_url=self.url, trust_env=False, verify=False)

    def cookie(self) -> tuple[str, str]:
        """Name and value of a new browser session of this PC."""
        return f"slipring-{self.port}", self.entrance.sessions.open(Kind.BROWSER, "a browser", "127.0.0.1")[1]


@contextlib.contextmanager
def running(static: Path, *names: str, bench: bool = False) -> Iterator[Service]:
    """A service on a free port, in a thread of its own, with the settings that the command line gives it.

    `bench`: it is open to a bench network too, not encrypted; an address of this PC stands in for that.
    """
    rigs = BenchRigs(*names)
    sockets = [socket.create_server(("127.0.0.1", 0))]
    port = sockets[0].getsockname()[1]
    if bench:
        sockets.append(socket.create_server((BENCH, port)))
    with tempfile.TemporaryDirectory() as folder:
        rigs.data = Path(folder)
        sessions = Sessions(Path(folder) / "sessions.json", time.time)
        entrance = Entrance(TOKEN, sessions, Bench((BENCH,), BENCH, port, "") if bench else None)
        server = uvicorn.Server(web_server(create_app(cast(Rigs, rigs), entrance, static)))
        with _served(Service(port, rigs, server, entrance), sockets) as service:
            yield service


@contextlib.contextmanager
def _served(service: Service, sockets: list[socket.socket]) -> Iterator[Service]:
    server = service.server

    async def serve() -> None:
        service.server_loop = asyncio.get_running_loop()
        await server.serve(sockets=sockets)

    thread = threading.Thread(target=lambda: asyncio.run(serve()))
    service.alive = thread.is_alive
    thread.start()
    try:
        while not server.started:
            time.sleep(0.01)
        yield service
    finally:
        server.should_exit = True
        thread.join(10)
