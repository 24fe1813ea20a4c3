"""Goal 4: the hub's CPU per message and viewer against `websockets.broadcast` of the same bytes.

100 viewers sit in a process of their own; what is counted is the CPU of this one, wire and web server included. Twice:
sending alone (the viewers' answers are given to the mailboxes without a wire, the reference needs none), and all of it
(picture made and packed each tick, answers read from the wire; the reference broadcasts and reads its answers too).
"""

import asyncio
import contextlib
import json
import re
import socket
import sys
import time
from collections.abc import Callable, Coroutine
from dataclasses import dataclass
from pathlib import Path

import numpy as np
import uvicorn
from websockets.asyncio.server import ServerConnection, broadcast, serve
from websockets.exceptions import ConnectionClosed

from server.access.entrance import Entrance
from server.access.sessions import Sessions
from server.live.hub import Hub
from server.live.records import Connection, ConnectionState, Shown
from server.live.view import View
from server.pipeline import Output
from server.readings import Fast, Instant, Reading
from server.web.door import Door
from server.web.guard import Guard
from server.web.live_socket import LiveSocket
from server.web.permissions import Needs
from server.web.wire import web_server
from tests.benchmarks.pairs import Row, cpu_ratio
from tests.server.live.blocks import Sync, block, described, sines
from tests.server.web.raw import TOKEN, upgrade

VIEWERS = 100
STUCK_ROUNDS = 100


def watched_view() -> View:
    """A running ventilator with forty readings and an hour of strip."""
    view = View("heron-1")
    view.connection = Connection(ConnectionState.LIVE)
    view.motor = Shown("cabin ventilator", "permanent_split_capacitor")
    view.take(Output(described=described(), samples=(block(sines(1.0)),)), Sync())
    readings = [Reading("frequency_hz", 50.0), Reading("run_state", "running")]
    readings += [Reading(f"reading_{k}", 1.2345 * k) for k in range(40)]
    t = np.arange(1, 360_000, dtype=np.float64) * 0.01
    rows = Fast(t, np.sin(t), np.sin(t), np.cos(t))
    view.take(Output(instants=(Instant(0, 1, 0.02, 0.2, tuple(readings)),), fast=(rows,)), Sync())
    return view


class Crowd:
    """The viewers' process; `heard` waits until all of them have got one more picture."""

    def __init__(self, process: asyncio.subprocess.Process) -> None:
        self._process = process

    @classmethod
    async def start(cls, port: int, path: str, answer: bool) -> "Crowd":
        pipe = asyncio.subprocess.PIPE
        command = (sys.executable, "-m", "tests.benchmarks.crowd", str(port), path, str(VIEWERS), str(int(answer)))
        crowd = cls(await asyncio.create_subprocess_exec(*command, stdin=pipe, stdout=pipe))
        await crowd.heard()
        return crowd

    async def heard(self) -> None:
        assert self._process.stdout is not None
        if not await asyncio.wait_for(self._process.stdout.readline(), 20):
            raise RuntimeError("the viewers' process ended")

    async def stop(self) -> None:
        assert self._process.stdin is not None
        self._process.stdin.close()
        await self._process.wait()


@dataclass
class Rounds:
    """Something that sends one picture to all viewers, again and again."""

    one: Callable[[], Coroutine[None, None, None]]
    stop: Callable[[], Coroutine[None, None, None]]


async def hub_rounds(hub: Hub, answer: bool) -> Rounds:
    """The hub behind the real web server and guard."""
    listening = socket.create_server(("127.0.0.1", 0))
    nowhere = Path("no-folder")  # nothing is kept, and strangers would get no door
    entrance = Entrance(TOKEN, Sessions(nowhere / "sessions.json", time.time))
    config = web_server(Guard(LiveSocket(hub, "0", entrance), entrance, Needs(()), Door(nowhere)))
    config.lifespan = "off"
    server = uvicorn.Server(config)
    serving = asyncio.create_task(server.serve(sockets=[listening]))
    port = listening.getsockname()[1]
    crowd = await Crowd.start(port, "/live", answer)
    stuck = await _stuck_viewer(port)

    async def one() -> None:
        hub.tick(time.monotonic())
        await crowd.heard()
        if not answer:
            for viewer in hub.watching:
                if viewer.rig != "stuck":
                    viewer.drawn(hub.number, time.monotonic())

    async def stop() -> None:
        await crowd.stop()
        stuck.close()
        server.should_exit = True
        await serving

    return Rounds(one, stop)


async def _stuck_viewer(port: int) -> socket.socket:
    """A viewer that reads nothing after the handshake; the rig it asks for is not there, so it is shown the first."""
    opened = socket.socket()
    opened.setblocking(False)
    loop, host = asyncio.get_running_loop(), f"127.0.0.1:{port}"
    await loop.sock_connect(opened, ("127.0.0.1", port))
    await loop.sock_sendall(opened, upgrade(host, f"http://{host}").replace(b"/live", b"/live?rig=stuck"))
    await loop.sock_recv(opened, 20)
    return opened


async def broadcast_rounds(picture: Callable[[int], bytes], answer: bool) -> Rounds:
    """The reference: `broadcast`, and a loop for each viewer that reads its answers."""
    connections: set[ServerConnection] = set()
    number = 0

    async def handle(connection: ServerConnection) -> None:
        connections.add(connection)
        with contextlib.suppress(ConnectionClosed):
            async for said in connection:
                json.loads(said)

    server = await serve(handle, "127.0.0.1", 0, compression=None)
    crowd = await Crowd.start(next(iter(server.sockets)).getsockname()[1], "/", answer)

    async def one() -> None:
        nonlocal number
        number += 1
        broadcast(connections, picture(number))
        await crowd.heard()

    async def stop() -> None:
        await crowd.stop()
        server.close()
        await server.wait_closed()

    return Rounds(one, stop)


def measure(pairs: int) -> list[Row]:
    """The two CPU ratios, and what one stuck viewer costs the others and keeps for itself."""
    view = watched_view()
    packed = (
        Hub(lambda: {view.name: view}, lambda: Sync().zero_utc_s + 1).packed(view.name, view, {}, 0.0, False) or b""
    )

    def numbered(number: int) -> bytes:
        return re.sub(rb'"number":\d+', b'"number":%d' % number, packed, count=1)

    class Packed(Hub):
        """The picture is given, so that sending is left."""

        def packed(self, *given: object) -> bytes:
            return numbered(self.number)

    with asyncio.Runner() as runner:

        def ratio_of(kind: type[Hub], answer: bool) -> tuple[float, list[Row]]:
            hub = kind(lambda: {view.name: view}, lambda: Sync().zero_utc_s + 1)
            ours, reference = runner.run(hub_rounds(hub, answer)), runner.run(broadcast_rounds(numbered, answer))
            ratio = cpu_ratio(lambda: runner.run(ours.one()), lambda: runner.run(reference.one()), pairs)
            rows = [] if answer else runner.run(_beside_a_stuck_viewer(hub, ours))
            for each in (ours, reference):
                runner.run(each.stop())
            return ratio, rows

        sending, stuck_rows = ratio_of(Packed, answer=False)
        everything, _ = ratio_of(Hub, answer=True)
    note = f"{len(packed)} bytes a picture"
    return [
        Row("4", f"hub, CPU per message and viewer, {VIEWERS} viewers, against broadcast", sending, 2.0, note),
        Row("4", "the same with pictures made and answers read, against broadcast and answers", everything, 2.0, note),
        *stuck_rows,
    ]


async def _beside_a_stuck_viewer(hub: Hub, rounds: Rounds) -> list[Row]:
    stuck = next(viewer for viewer in hub.watching if viewer.rig == "stuck")
    others = [viewer for viewer in hub.watching if viewer is not stuck]
    before = [viewer.pictures_sent for viewer in others]
    for _ in range(STUCK_ROUNDS):
        await rounds.one()
    least = min(viewer.pictures_sent - sent for viewer, sent in zip(others, before, strict=True))
    return [
        Row(
            "4",
            "beside a stuck viewer: pictures made over pictures each other viewer got",
            STUCK_ROUNDS / least,
            1 / 0.98,
        ),
        Row("4", "messages that a stuck viewer keeps in memory", float(stuck.pictures_sent), 2.0),
    ]
