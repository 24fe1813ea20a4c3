"""`slipring serve`: rigs and page, from the first line on the terminal to the orderly stop.

The signals are ours, not the web server's: it would raise them again after its own stop, and what has to be stopped
behind it would never be.
"""

import asyncio
import contextlib
import os
import signal
import socket
import sys
import threading
import webbrowser
from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path
from types import FrameType

import uvicorn

from server.commands.listen import PortBusyError, listen
from server.config import ConfigError
from server.data_folder import DataFolderError, default_data_folder, hold, token_file
from server.rigs import Rigs
from server.settings_text import check_name
from server.web.app import create_app

GRACE_S = 2  # viewers get so long to hear the end
HEADERS_MAX = 8192  # bytes
MESSAGE_MAX = 65_536  # bytes of one message from a page
CONNECTIONS_MAX = 1024  # above the limit of viewers, so that the one too many is told so
INTERRUPTED = 130


def run(chosen: Namespace) -> int:
    data = Path(chosen.data).absolute() if chosen.data else default_data_folder()
    try:
        wanted = [_name_and_url(text) for text in chosen.rig]
        with hold(data), contextlib.ExitStack() as open_sockets:
            sockets = [open_sockets.enter_context(each) for each in listen(chosen.port)]
            token = token_file(data).read_text(encoding="ascii")
            return asyncio.run(_serve(data, token, wanted, chosen.demo, chosen.open, sockets))
    except (ConfigError, DataFolderError, PortBusyError) as error:
        print(f"slipring: {error}", file=sys.stderr)
        return 2 if isinstance(error, ConfigError) else 1


def _name_and_url(text: str) -> tuple[str, str]:
    name, found, url = text.partition("=")
    if not (found and name and url):
        raise ConfigError("", None, f'"--rig {text}" names no rig and port', "write --rig bench=/dev/ttyACM0")
    check_name(name)
    return name, url


async def _serve(
    data: Path, token: str, wanted: list[tuple[str, str]], demo: bool, show: bool, sockets: list[socket.socket]
) -> int:
    rigs = Rigs(data)
    server = _Server(_settings(rigs, token))
    stopping = _Stopping(server, asyncio.get_running_loop())
    with stopping.on_signals():
        await rigs.start(dict(wanted), demo)
        try:
            serving = asyncio.create_task(server.serve(sockets=sockets))
            while not server.started and not serving.done():
                await asyncio.sleep(0.02)
            if server.started:
                _say_ready(data, sockets[0], show)
            await serving
        finally:
            await rigs.stop()
    return stopping.exit_code


def _settings(rigs: Rigs, token: str) -> uvicorn.Config:
    return uvicorn.Config(
        create_app(rigs, token),
        http="h11",
        ws="websockets-sansio",
        ws_per_message_deflate=False,  # costs ten times what sending costs
        ws_max_size=MESSAGE_MAX,
        h11_max_incomplete_event_size=HEADERS_MAX,
        limit_concurrency=CONNECTIONS_MAX,
        timeout_graceful_shutdown=GRACE_S,
        proxy_headers=False,  # nobody stands in front of a loopback address
        server_header=False,
        access_log=False,
        log_level="warning",
    )


def _say_ready(data: Path, listening: socket.socket, show: bool) -> None:
    address = f"http://127.0.0.1:{listening.getsockname()[1]}/"
    print(f"Slipring is at {address}   (Ctrl-C ends it)\nSettings and recordings: {data}", file=sys.stderr, flush=True)
    if show:  # some browsers hold the caller until they are closed
        threading.Thread(target=webbrowser.open, args=(address,), daemon=True).start()


class _Server(uvicorn.Server):
    """Leaves the signals alone."""

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
        before = {number: signal.signal(number, self._take) for number in (signal.SIGINT, signal.SIGTERM)}
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
