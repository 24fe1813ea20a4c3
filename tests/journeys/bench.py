"""A bench for journeys: the real service, real software boards, and a cable in the hand of the test."""

import contextlib
import json
import signal
import socket
import subprocess
import sys
import threading
import time
import urllib.request
from collections.abc import Callable, Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import serial

ROOT = Path(__file__).resolve().parent.parent.parent
PATIENCE_S = 30.0
RUNNING: dict[str, "Service"] = {}  # by address: whoever opens a page is let in by the service that has it


@dataclass(frozen=True, slots=True)
class Service:
    """A running service: its address, data folder and process."""

    url: str
    data: Path
    process: subprocess.Popen[bytes]

    @property
    def bearer(self) -> dict[str, str]:
        """The header that lets a script in."""
        return {"Authorization": f"Bearer {(self.data / 'secret' / 'token').read_text()}"}

    def get(self, path: str) -> Any:
        request = urllib.request.Request(self.url + path, headers=self.bearer)
        with urllib.request.urlopen(request, timeout=10) as answer:
            return json.load(answer)

    def link(self) -> str:
        """A new link that opens the page once."""
        link: str = self.send("POST", "/api/links", {})["link"]
        return link

    def send(self, method: str, path: str, body: object) -> Any:
        """What a script does: JSON with our header and the token."""
        headers = {"Content-Type": "application/json", "Slipring-Request": "1", **self.bearer}
        request = urllib.request.Request(self.url + path, json.dumps(body).encode(), headers, method=method)
        with urllib.request.urlopen(request, timeout=30) as answer:
            return json.load(answer)


@contextlib.contextmanager
def running(command: list[str], said: Path) -> Iterator[subprocess.Popen[bytes]]:
    """A child process with a lifeline on its standard input, all that it says in a file; ended when the test leaves."""
    with said.open("wb") as file:
        process = subprocess.Popen(
            [sys.executable, "-X", "faulthandler", *command],
            cwd=ROOT,
            stdin=subprocess.PIPE,
            stdout=file,
            stderr=subprocess.STDOUT,
        )
    try:
        yield process
    finally:
        if process.stdin:
            process.stdin.close()
        process.send_signal(signal.SIGCONT)  # a test may have stopped it
        process.terminate()
        try:
            process.wait(
                PATIENCE_S
            )  # beside two files of tests on two cores; that it ends in five seconds is tested alone
        except subprocess.TimeoutExpired:
            process.send_signal(signal.SIGABRT)  # it tells where each of its threads stands, and dies
            process.wait(PATIENCE_S)
            raise AssertionError(f"it did not end within {PATIENCE_S:.0f} s; it said: {said.read_text()}") from None


@contextlib.contextmanager
def service(data: Path, *arguments: str, port: int = 0, program: str = "server") -> Iterator[Service]:
    """`slipring serve` on a free port of its own, ready. A port is plugged in by a link `ttyACM...` beside its data."""
    look = str(data.parent / "ttyACM*")  # never the ports of the PC: somebody may work with them
    said = data.with_name(f"{data.name}-service-{time.monotonic_ns()}.txt")
    options = ["--data", str(data), "--port", str(port), "--look", look, *arguments]
    with running(["-m", program, "serve", *options], said) as process:
        link = word_of(said, "http://127.0.0.1:")
        its = Service(link.partition("/enter#")[0], data, process)
        RUNNING[its.url] = its
        try:
            yield its
        finally:
            RUNNING.pop(its.url, None)  # a second one may have had the same address


@contextlib.contextmanager
def board(folder: Path, *arguments: str) -> Iterator[tuple[str, subprocess.Popen[bytes]]]:
    """A software board in real time: the address it printed, and its process."""
    said = folder / f"board-{time.monotonic_ns()}.txt"
    with running(["-m", "simulator", *arguments], said) as process:
        yield word_of(said, "/dev/", "socket://"), process


def word_of(said: Path, *beginnings: str) -> str:
    """The first word in what a process said that begins so."""

    def found() -> str:
        return next((word for word in said.read_text().split() if word.startswith(beginnings)), "")

    try:
        word: str = wait_for(found, f"a word like {beginnings}")
    except AssertionError as error:
        raise AssertionError(f"{error}; it said: {said.read_text()}") from None
    return word


def wait_for(condition: Callable[[], Any], what: str, patience_s: float = PATIENCE_S) -> Any:
    """The first true answer of `condition`; fails with `what` when patience ends."""
    end = time.monotonic() + patience_s
    while time.monotonic() < end:
        if answer := condition():
            return answer
        time.sleep(0.05)
    raise AssertionError(f"waited {patience_s:.0f} s in vain: {what}")


class Cable:
    """A TCP line to a board that can be pulled, plugged in again, held still, or damaged."""

    def __init__(self, board_url: str) -> None:
        self._board_url = board_url
        with socket.create_server(("127.0.0.1", 0)) as listener:
            self._port = listener.getsockname()[1]
        self.url = f"socket://127.0.0.1:{self._port}"
        self.held = False  # the line stays open and says nothing
        self.damage: Callable[[bytes], bytes] = bytes
        self._plugged = True
        self._ended = False
        self._thread = threading.Thread(target=self._serve, daemon=True)
        self._thread.start()

    def plug(self) -> None:
        self._plugged = True

    def pull(self) -> None:
        """The service sees its line close, and finds nobody there until the cable is plugged in again."""
        self._plugged = False

    def close(self) -> None:
        self._ended = True
        self._thread.join(5)

    def _serve(self) -> None:
        with serial.serial_for_url(self._board_url, timeout=0.02) as port:
            while not self._ended:
                if self._plugged:
                    with socket.create_server(("127.0.0.1", self._port)) as listener:
                        self._listen(listener, port)
                port.read(65536)  # nobody listens: what the board says now is lost

    def _listen(self, listener: socket.socket, port: serial.Serial) -> None:
        listener.settimeout(0.05)
        while self._plugged and not self._ended:
            try:
                client, _ = listener.accept()
            except TimeoutError:
                port.read(65536)
                continue
            with client:
                self._carry(port, client)

    def _carry(self, port: serial.Serial, client: socket.socket) -> None:
        client.setblocking(False)
        while self._plugged and not self._ended:
            if self.held:
                time.sleep(0.02)
                continue
            data = port.read(max(1, min(port.in_waiting, 65536)))
            try:
                with contextlib.suppress(BlockingIOError):
                    if not (asked := client.recv(256)):
                        return
                    port.write(asked)
                client.setblocking(True)
                client.sendall(self.damage(data))
                client.setblocking(False)
            except OSError:
                return


@contextlib.contextmanager
def cable(board_url: str) -> Iterator[Cable]:
    line = Cable(board_url)
    try:
        yield line
    finally:
        line.close()
