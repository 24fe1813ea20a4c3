"""A bench by night: a software board, its cable, the PC's clocks and the whole service as a process of its own.

The bench runs as fast as the service takes it, and in real time where something happens: a port is tried again and a
disk is synced by real seconds.
"""

import os
import signal
import socket
import subprocess
import sys
import time
from collections.abc import Callable
from itertools import groupby
from operator import itemgetter
from pathlib import Path

from simulator.bench import bench_board
from simulator.board import Board
from simulator.lines import TcpLine
from tests.night.plan import STORY, motor, runs
from tests.night.shared import Shared
from tests.night.struck import StruckWire
from tests.night.truth import Journal

ROOT = Path(__file__).resolve().parent.parent.parent
RIG = "night"
STEP_S, REAL_STEP_S = 0.5, 0.05
FASTEST = 50.0  # bench seconds in one of ours while nothing is computed
WAIT_S = 60.0  # for anything of the service: more is a fault
STOP_S = 20.0
CALM_AT_MOST_S = 120.0
_SETTINGS = """\
[rig]
name = "night"
port = "{url}"

[alarms.samples]
rank = "caution"
act = "Look at the cable"
event = "gap"
"""


class Bench:
    """`at_s` is bench time; what is done here lasts as long as it lasts, and is in the journal before it is done."""

    def __init__(self, folder: Path, seed: int, journal: Journal, at_s: float, boot: int, wall_s: float) -> None:
        self.data, self.journal, self.at_s, self.boot = folder / "data", journal, at_s, boot
        self._seed, self._motor = seed, motor(folder)
        self._log = (folder / "service.log").open("ab")
        self._shared_path = folder / "shared"
        self.shared = Shared(self._shared_path)
        self.shared.monotonic_s, self.shared.wall_s = at_s, wall_s
        self.line: TcpLine | None = TcpLine(0)
        self._url, self._was_open = self.line.url, False
        self.page_port = _free_port()
        (self.data / "rigs").mkdir(parents=True, exist_ok=True)
        (self.data / "rigs" / f"{RIG}.toml").write_text(_SETTINGS.format(url=self._url))
        self.service: subprocess.Popen[bytes] | None = None
        self._written = 0
        self._wire: StruckWire | None = None  # while it spoils what goes over it
        self._due_s = time.monotonic()
        self._new_board().step(REAL_STEP_S)  # its model is compiled, which is not a part of the night
        self.board, self._began_s = self._new_board(), at_s

    def _new_board(self) -> Board:
        return bench_board(self._motor, self._seed, story=STORY, boot=self.boot)

    @property
    def motor_runs(self) -> bool | None:
        """By its story; None: it was switched just now or will be soon."""
        return runs(self.board.tick / self.board.tick_hz)

    # -- time

    def go_on(self, until_s: float) -> None:
        """Connected and fast."""
        while self.at_s < until_s:
            self._step(min(STEP_S, max(until_s - self.at_s, 1e-3)))
        self.settle()

    def calm(self) -> bool:
        """Go on until it is known whether the motor runs; whether it does."""
        until_s = self.at_s + CALM_AT_MOST_S
        while self.motor_runs is None and self.at_s < until_s:
            self.go_on(self.at_s + 1.0)
        return bool(self.motor_runs)

    def in_real_time(self, seconds: float) -> None:
        until_s = self.at_s + seconds
        while self.at_s < until_s:
            self._step(REAL_STEP_S, pace=1.0)

    def until_live(self, cause: str) -> None:
        """Real time until the service knows the board again; what comes before it has opened the port is gone."""
        self._until(lambda: self.shared.live, cause)
        self.in_real_time(1.0)
        self.settle()

    def settle(self) -> None:
        """Wait until the service has taken all that was written."""
        self._wait(lambda: self.shared.taken >= self._written, "take what the board sent")

    # -- what happens

    def pull(self, lasts_s: float, mid_frame: bool, reset: bool = False) -> None:
        """The cable is out for so long; `reset`: the board has its supply by it."""
        self._cut("cable out", mid_frame)
        assert self.line is not None
        self.line.close()
        self.line, port = None, int(self._url.rpartition(":")[2])
        self._pass(lasts_s, "cable out")
        self.line, self._was_open = TcpLine(port), False
        if reset:
            self._reset()
        self.until_live("cable out")

    def reset(self, mid_frame: bool) -> None:
        """The board starts anew while it is connected; what it measured last nobody gets."""
        self._cut("", mid_frame)
        self._reset()
        self._write(b"\0")
        self.in_real_time(1.5)
        self.settle()

    def damage(self, lasts_s: float) -> None:
        self._wire = StruckWire(self._seed)
        self.go_on(self.at_s + lasts_s)
        self._wire.end()
        while self._wire.waits:
            self._step(REAL_STEP_S)
        self._wire = None
        self.settle()

    def stop_service(self) -> None:
        """In order. What is sent to it while it stops may be lost."""
        self._end_service(signal.SIGTERM)

    def kill_service(self) -> None:
        self.in_real_time(2.5)
        self._end_service(signal.SIGKILL)

    def _end_service(self, by: signal.Signals) -> None:
        assert self.service is not None
        self.service.send_signal(by)
        end_s = time.monotonic() + STOP_S
        while self.service.poll() is None:
            self._step(REAL_STEP_S, pace=1.0, cause="service not running", maybe=True)
            if time.monotonic() > end_s:
                raise RuntimeError(f"the service did not end in {STOP_S:.0f} s")
        self._gone()

    def _gone(self) -> None:
        assert self.service is not None
        self.service.wait()
        if self.service.stdin is not None:
            self.service.stdin.close()
        self.service = None

    def without_service(self, lasts_s: float) -> None:
        assert self.line is not None
        self.line.wait(0.0)  # learn that nobody has it open
        self._pass(lasts_s, "service not running")

    def start_service(self) -> None:
        """And go on in real time until it knows the board."""
        command = [sys.executable, "-m", "tests.night.service", str(self._shared_path), "serve", "--data"]
        command += [str(self.data), "--port", str(self.page_port)]
        self.shared.taken, self.shared.live, self._written = 0, False, 0
        environment = {**os.environ, "PYTHONPATH": str(ROOT)}
        self.service = subprocess.Popen(
            command, cwd=ROOT, env=environment, stdin=subprocess.PIPE, stdout=self._log, stderr=self._log
        )
        self.until_live("service not running")

    def step_wall_clock(self, seconds: float) -> None:
        """The PC's clock of the day is set, and the dates of a run's files are as far from it."""
        self.shared.wall_s += seconds
        for path in (self.data / "runs").rglob("*"):
            if path.is_file():
                there = path.stat()
                os.utime(path, (there.st_atime, there.st_mtime - seconds))

    def close(self) -> None:
        """End what is left of it."""
        if self.service is not None:
            self.service.kill()
            self._gone()
        if self.line is not None:
            self.line.close()
        self._log.close()
        self.journal.close()

    # -- bytes

    def _step(self, seconds: float, pace: float = 0.0, cause: str = "", maybe: bool = False) -> None:
        """Let the board live for so long, and send what it says, if somebody has the line open."""
        frames = self._live(seconds)
        self.settle() if not (cause or maybe) else None
        self._keep_pace(seconds, pace)
        self.shared.monotonic_s = self.at_s
        requests = self.line.wait(0.0) if self.line is not None else b""
        if self.line is None or not self.line.is_open:
            self.journal.sent(self.at_s, self.boot, frames, cause or "cable out")
            self._was_open = False
            return
        if requests:
            frames += _frames(self.board.receive(requests))
        woken, self._was_open = b"" if self._was_open else b"\0", True
        self._write(woken + self._spoiled(frames, "service not running" if maybe else "", maybe))

    def _live(self, seconds: float) -> list[bytes]:
        """Board time passes; the frames that it sent."""
        self.at_s += seconds
        error = 1.0 + 1e-6 * self.board.clock_error_ppm
        lived_s = self.board.tick / self.board.tick_hz
        return _frames(self.board.step(max(0.0, (self.at_s - self._began_s) * error - lived_s)))

    def _spoiled(self, frames: list[bytes], cause: str, maybe: bool) -> bytes:
        """What the wire makes of them; what becomes of each is written down as soon as it is known."""
        if self._wire is None:
            self.journal.sent(self.at_s, self.boot, frames, cause, maybe)
            return b"".join(frames)
        out, fates = self._wire.passed(frames)
        for fate, its in groupby(fates, itemgetter(0)):
            self.journal.sent(self.at_s, self.boot, [each for _, each in its], fate)
        return out

    def _write(self, data: bytes) -> None:
        assert self.line is not None
        self._written += len(data)
        end_s = time.monotonic() + WAIT_S
        while data:
            took = self.line.write(data)
            data = data[took:]
            if data and not took:
                if not self.line.is_open or time.monotonic() > end_s:
                    self._written -= len(data)
                    return
                time.sleep(0.001)

    def _cut(self, cause: str, mid_frame: bool) -> None:
        """The line ends behind some frames, or in the middle of one; `cause`: why the rest does not come, empty: it
        is of a start of the board that is over."""
        frames = self._live(REAL_STEP_S)
        self.shared.monotonic_s = self.at_s
        whole, cut = frames[: len(frames) // 2], frames[len(frames) // 2] if mid_frame else b""
        self.journal.sent(self.at_s, self.boot, whole)
        if cause:
            self.journal.sent(self.at_s, self.boot, frames[len(whole) :], cause)
        self._write(b"".join(whole) + cut[: len(cut) // 2])
        self.settle()

    def _reset(self) -> None:
        self.boot += 1
        self.board, self._began_s = self._new_board(), self.at_s

    def _pass(self, lasts_s: float, cause: str) -> None:
        """Nothing is connected: a moment in real time, so that it is seen when it was, and then fast."""
        until_s = self.at_s + lasts_s
        while self.at_s < until_s:
            pace = 1.0 if self.at_s < until_s - lasts_s + 0.5 else FASTEST
            self._step(min(REAL_STEP_S * pace**0.5, max(until_s - self.at_s, 1e-3)), pace, cause)

    def _keep_pace(self, seconds: float, pace: float) -> None:
        now_s = time.monotonic()
        if pace:
            self._due_s = max(self._due_s, now_s - 0.1) + seconds / pace
            time.sleep(max(0.0, self._due_s - now_s))
        else:
            self._due_s = now_s

    def _until(self, happened: Callable[[], bool], cause: str) -> None:
        end_s = time.monotonic() + WAIT_S
        while not happened():
            self._check(end_s, "know the board")
            self._step(REAL_STEP_S, 1.0, cause)

    def _wait(self, happened: Callable[[], bool], what: str) -> None:
        end_s = time.monotonic() + WAIT_S
        while not happened():
            self._check(end_s, what)
            time.sleep(0.0005)

    def _check(self, end_s: float, what: str) -> None:
        if self.service is None or self.service.poll() is not None or time.monotonic() > end_s:
            raise RuntimeError(f"the service does not {what}, {self.at_s:.0f} s into the night; see its log")


def _frames(data: bytes) -> list[bytes]:
    return [frame + b"\0" for frame in data.split(b"\0")[:-1] if frame]  # a board may wake the line with a delimiter


def _free_port() -> int:
    with socket.create_server(("127.0.0.1", 0)) as there:
        return int(there.getsockname()[1])
