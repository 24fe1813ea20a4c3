"""The real service as a child process, for tests that look at it from outside."""

import json
import os
import re
import signal
import subprocess
import sys
import time
from collections.abc import Callable, Sequence
from pathlib import Path
from types import TracebackType
from typing import Any, Self
from urllib.request import Request, urlopen

ROOT = Path(__file__).resolve().parents[3]
READY_S = 20.0


class Service:
    """`slipring serve` with these options on a free port, ended when it is left."""

    def __init__(
        self, data: Path, *options: str, program: Sequence[str] = ("-m", "server"), ready: str = "Ctrl-C"
    ) -> None:
        command = [sys.executable, *program, "serve", "--port", "0", "--data", str(data), *options]
        self._ready = ready
        self.data = data
        self._path = data.parent / f"{data.name}-said"
        # Appending: a reader of the same open file would move the place at which the service writes.
        self._said = open(self._path, "a")  # noqa: SIM115  # closed when the service is left
        self._begins = self._path.stat().st_size
        self.process = subprocess.Popen(
            command, cwd=ROOT, stdout=subprocess.PIPE, stderr=self._said, stdin=subprocess.DEVNULL, text=True
        )

    def __enter__(self) -> Self:
        try:
            self.until(lambda: self._ready in self.said and "recordings" in self.said, READY_S)
        except AssertionError:
            self.__exit__(None, None, None)  # who fails to enter never leaves
            raise
        found = re.search(r"http://127\.0\.0\.1:(\d+)/", self.said)
        assert found, self.said
        self.port = int(found[1])
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        if self.process.poll() is None:
            self.process.kill()
        self.process.communicate(timeout=10)
        self._said.close()

    @property
    def said(self) -> str:
        """What it has said on standard error."""
        return self._path.read_text()[self._begins :]

    def until(self, happened: Callable[[], object], within_s: float = 10.0) -> None:
        start_s = time.monotonic()
        while not happened():
            assert self.process.poll() is None, self.said
            assert time.monotonic() - start_s < within_s, self.said
            time.sleep(0.01)

    def get(self, path: str) -> Any:
        with urlopen(Request(f"http://127.0.0.1:{self.port}{path}", headers=self.bearer), timeout=5) as answer:
            return json.load(answer)

    @property
    def bearer(self) -> dict[str, str]:
        """The header with the scripts' token."""
        return {"Authorization": f"Bearer {(self.data / 'secret' / 'token').read_text()}"}

    def connections(self) -> dict[str, str]:
        """Rig -> state of its connection."""
        return {rig["name"]: rig["connection"] for rig in self.get("/api/rigs")}

    def end(self, number: int = signal.SIGTERM) -> tuple[int, float]:
        """Exit code, and how long it took."""
        start_s = time.monotonic()
        self.process.send_signal(number)
        code = self.process.wait(timeout=10)
        return code, time.monotonic() - start_s

    def children(self) -> list[int]:
        """Processes that it has started and that still run, theirs included."""
        return descendants(self.process.pid)


def descendants(pid: int) -> list[int]:
    try:
        own = [int(word) for word in Path(f"/proc/{pid}/task/{pid}/children").read_text().split()]
    except OSError:
        return []
    return own + [each for child in own for each in descendants(child)]


def is_running(pid: int) -> bool:
    """A process that has ended and waits to be asked for its code does not count."""
    try:
        return Path(f"/proc/{pid}/stat").read_text().rpartition(")")[2].split()[0] != "Z"
    except OSError:
        return False


def all_ended(pids: list[int], within_s: float) -> bool:
    start_s = time.monotonic()
    while any(map(is_running, pids)):
        if time.monotonic() - start_s > within_s:
            return False
        time.sleep(0.02)
    return True


def stop_process(pid: int) -> None:
    """Hold a process, so that it notices nothing."""
    os.kill(pid, signal.SIGSTOP)
