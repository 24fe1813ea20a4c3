"""Goal 1: what the port's thread costs beside the least that can read a pty, at the pace of the reference board.

A child process writes 331 kB/s in steps of 1.6 ms, as 625 frames a second come. In turn the port and a loop of wait,
`os.read` and the same pause read it; the CPU time is that of the reading thread alone.
"""

import os
import pty
import subprocess
import sys
import threading
import time
import tty
from statistics import median
from types import TracebackType
from typing import Self

from firmware_protocol import Identity, Message, Samples, encode_frame
from firmware_protocol.version import PROTOCOL_MAJOR, PROTOCOL_MINOR
from server.ingest.port import PAUSE_S, Port
from tests.benchmarks.pairs import Row

BYTES_PER_S = 331_000
STEP_S = 0.0016
WAKE_UPS_MAX = 250
BATCH_S = 1.0
_MESSAGES: list[Message] = [Identity(PROTOCOL_MAJOR, PROTOCOL_MINOR, 1, 1_000_000, 0, 0, "B-1")]
_MESSAGES += [Samples(0, 8, 32 * k, 1600 * k, bytes(range(1, 129)) * 4) for k in range(40)]
_BYTES = b"".join(encode_frame(message, sequence=k) for k, message in enumerate(_MESSAGES))
_PACED = """
import os, select, sys, time
fd, size, step, data = int(sys.argv[1]), int(sys.argv[2]), float(sys.argv[3]), bytes.fromhex(sys.argv[4])
os.set_blocking(fd, False)
next_s, at = time.monotonic(), 0
while not select.select([0], [], [], max(0.0, next_s - time.monotonic()))[0]:
    next_s += step
    try:
        at = (at + os.write(fd, data[at:at + size])) % len(data)
    except BlockingIOError:
        pass
"""


class PacedPty:
    """A pty on which a child process writes at an even pace until it is left."""

    def __enter__(self) -> Self:
        self._master, self.slave = pty.openpty()
        tty.setraw(self.slave)
        self.url = os.ttyname(self.slave)
        size = str(round(BYTES_PER_S * STEP_S))
        command = [sys.executable, "-c", _PACED, str(self._master), size, str(STEP_S), _BYTES.hex()]
        self._child = subprocess.Popen(command, stdin=subprocess.PIPE, pass_fds=[self._master])
        return self

    def __exit__(
        self, kind: type[BaseException] | None, error: BaseException | None, trace: TracebackType | None
    ) -> None:
        assert self._child.stdin is not None
        self._child.stdin.close()
        self._child.wait(10)
        os.close(self.slave)
        os.close(self._master)


def thread_cpu_s(thread: threading.Thread) -> float:
    """CPU time that a running thread has used."""
    assert thread.ident is not None
    return time.clock_gettime(time.pthread_getcpuclockid(thread.ident))


def read_by_port(paced: PacedPty, for_s: float) -> tuple[float, float, float]:
    """CPU share, bytes a second and hand-overs a second of the port's thread."""
    chunks: list[int] = []
    described = threading.Event()

    def told(report: object) -> None:
        if getattr(report, "state", "") == "live":
            described.set()

    port = Port(paced.url, 2_000_000, time.time, lambda chunk, _: chunks.append(len(chunk)), told)
    port.start()
    try:
        assert described.wait(5.0)
        before, start_s, start_cpu_s = len(chunks), time.monotonic(), thread_cpu_s(port.thread)
        time.sleep(for_s)
        took_s, cpu_s = time.monotonic() - start_s, thread_cpu_s(port.thread) - start_cpu_s
        read = chunks[before:]
    finally:
        port.stop()
    return cpu_s / took_s, sum(read) / took_s, len(read) / took_s


def read_by_loop(paced: PacedPty, for_s: float) -> tuple[float, float, float]:
    """The same of the least loop: a blocking `os.read` and the pause."""
    os.set_blocking(paced.slave, True)
    read: list[int] = []
    start_s, start_cpu_s = time.monotonic(), time.thread_time()
    while time.monotonic() - start_s < for_s:
        read.append(len(os.read(paced.slave, 65_536)))
        time.sleep(PAUSE_S)
    took_s = time.monotonic() - start_s
    return (time.thread_time() - start_cpu_s) / took_s, sum(read) / took_s, len(read) / took_s


def measure(pairs: int, batch_s: float = BATCH_S) -> list[Row]:
    """CPU of the port against the loop, and hand-overs a second against the 250 that a loop may be woken."""
    with PacedPty() as paced:
        read = [(read_by_port(paced, batch_s), read_by_loop(paced, batch_s)) for _ in range(pairs)]
    ratio = median(port[0] / loop[0] for port, loop in read)
    cpu, carried, wake_ups = (median(port[k] for port, _ in read) for k in range(3))
    note = f"{100 * cpu:.1f} % of a core at {carried / 1000:.0f} kB/s"
    return [
        Row("1", "port: CPU against a blocking read with the same pause", ratio, 3.0, note),
        Row(
            "1", f"port: wake-ups a second, of {WAKE_UPS_MAX}", wake_ups / WAKE_UPS_MAX, 1.0, f"{wake_ups:.0f} a second"
        ),
    ]
