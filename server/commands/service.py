"""The service: rigs and page, from the first line on the terminal to the orderly stop.

The signals are ours, not the web server's: it would raise them again after its own stop, and what has to be stopped
behind it would never be.
"""

import asyncio
import contextlib
import logging
import os
import signal
import socket
import threading
import time
import webbrowser
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from functools import partial
from pathlib import Path
from types import FrameType
from typing import Any

import uvicorn

from server.access.entrance import Entrance
from server.commands import supervised
from server.commands.bench_network import BenchListening, words
from server.commands.streams import say
from server.demo_rigs import Played
from server.rigs import Rigs
from server.web.access_api import link_of
from server.web.app import create_app
from server.web.origin import loopback
from server.web.tls_door import TlsDoor
from server.web.wire import ACCEPTED_AT_ONCE, GRACE_S, Http, web_server

INTERRUPTED = 130
DROP_S = GRACE_S - 0.5  # before the web server gives up waiting and cancels, which it tells at length
TOLD_EVERY_S = 60.0

log = logging.getLogger(__name__)


@dataclass(frozen=True)
class Listening:
    """Where the service is asked: the sockets of this PC, and perhaps the one of the bench network."""

    own: list[socket.socket]
    bench: BenchListening | None = None


async def serve(
    rigs: Rigs, entrance: Entrance, wanted: dict[str, str], demos: list[Played], show: bool, listening: Listening
) -> int:
    """Run until a signal asks for the end; the exit code.

    `wanted`: rigs named by the person, with their ports; `demos`: what software boards play.
    """
    server = _Server(web_server(create_app(rigs, entrance)), listening.bench)
    stopping = _Stopping(server, asyncio.get_running_loop())
    asyncio.get_running_loop().set_exception_handler(_Refusals())
    life = asyncio.create_task(supervised.show_life())
    with stopping.on_signals():
        try:
            await rigs.start(wanted, demos)
            serving = asyncio.create_task(server.serve(sockets=listening.own))
            while not server.started and not serving.done():
                await asyncio.sleep(0.02)
            if server.started and not server.should_exit:
                _say_ready(entrance, listening.own[0].getsockname()[1], rigs.data, show)
                supervised.tell("READY=1")
            await serving
        finally:
            supervised.tell("STOPPING=1")
            life.cancel()
            await rigs.stop()
    return stopping.exit_code


def _say_ready(entrance: Entrance, port: int, data: Path, show: bool) -> None:
    def link() -> str:
        return link_of(loopback(port).url, entrance.links.make(time.monotonic()))

    if "JOURNAL_STREAM" in os.environ:  # what is said is kept in a log (systemd.exec), where no secret belongs
        say(f"Slipring is at {loopback(port).url}   (slipring link prints a link that opens it)")
    else:
        say(f"Slipring is at {link()}   (Ctrl-C ends it)\nThe link opens it once; slipring link prints another one.")
    say(f"Settings and recordings: {data}")
    if entrance.bench is not None:
        say(words(entrance.bench))
    if show:  # some browsers hold the caller until they are closed
        threading.Thread(target=webbrowser.open, args=(link(),), daemon=True).start()


class _Refusals:
    """Connections that the system cannot give us are told once in a while.

    The loop then leaves its sockets alone for a second; but before it does, it tries for each place in the queue, and
    would tell each time at length.
    """

    def __init__(self) -> None:
        self._told_s = -TOLD_EVERY_S

    def __call__(self, loop: asyncio.AbstractEventLoop, context: dict[str, Any]) -> None:
        error = context.get("exception")
        if not (isinstance(error, OSError) and "accept()" in context["message"]):
            loop.default_exception_handler(context)
        elif loop.time() - self._told_s >= TOLD_EVERY_S:
            self._told_s = loop.time()
            log.error("Pages cannot connect at the moment (%s); what is connected goes on", error.strerror)


class _Server(uvicorn.Server):
    """Leaves the signals alone. At the end, connections that are not done within a while are dropped.

    The bench network is one more address, encrypted or not; connections of all addresses are counted together.
    """

    def __init__(self, config: uvicorn.Config, bench: BenchListening | None) -> None:
        super().__init__(config)
        self._bench = bench
        self._opening: set[TlsDoor] = set()

    async def startup(self, sockets: list[socket.socket] | None = None) -> None:
        await super().startup(sockets)
        if self._bench is not None and self.started:
            make: Callable[[], asyncio.Protocol] = self._behind
            if self._bench.encryption is not None:
                context, opening = self._bench.encryption.context, self._opening
                make = partial(TlsDoor, context, self._behind, opening)
            loop = asyncio.get_running_loop()
            self.servers.append(await loop.create_server(make, sock=self._bench.socket, backlog=ACCEPTED_AT_ONCE))

    def _behind(self) -> asyncio.Protocol:
        return Http(config=self.config, server_state=self.server_state, app_state=self.lifespan.state)

    async def shutdown(self, sockets: list[socket.socket] | None = None) -> None:
        dropping = asyncio.get_running_loop().call_later(DROP_S, self._drop)
        await super().shutdown(sockets)
        dropping.cancel()

    def _drop(self) -> None:
        for connection in list(self.server_state.connections):
            connection.transport.abort()

    @contextlib.contextmanager
    def capture_signals(self) -> Iterator[None]:
        yield


class _Stopping:
    """The first signal asks for an orderly stop, the second ends the process at once (its software boards notice)."""

    def __init__(self, server: uvicorn.Server, loop: asyncio.AbstractEventLoop) -> None:
        self._server = server
        self._loop = loop
        self.exit_code = 0
        self._asked = False

    @contextlib.contextmanager
    def on_signals(self) -> Iterator[None]:
        numbers = [signal.SIGINT, signal.SIGTERM]
        if os.name == "posix" and signal.getsignal(signal.SIGHUP) is not signal.SIG_IGN:  # nohup is respected
            numbers.append(signal.SIGHUP)  # the terminal was closed
        before = {number: signal.signal(number, self._take) for number in numbers}
        try:
            yield
        finally:
            for number, handler in before.items():
                signal.signal(number, handler)

    def _take(self, number: int, frame: FrameType | None) -> None:
        if self._asked:
            os._exit(INTERRUPTED)
        self._asked = True
        self.exit_code = INTERRUPTED if number == signal.SIGINT else 0
        self._server.should_exit = True
        self._loop.call_soon_threadsafe(lambda: None)  # wake the loop: it may be waiting for a socket
