"""Goal 7: from the oldest frame of a message being written to the port until a viewer has it. Wall clock.

The service as a person starts it, and the least program that could do it (pty, deframe, broadcast), one after the other
on a paced board, each at the hub's tick. Lateness is counted for each message from the first block that was not in the
message before.
"""

import json
import subprocess
import sys
import tempfile
import threading
import time
from collections.abc import Callable, Iterator
from contextlib import contextmanager
from itertools import pairwise
from pathlib import Path
from typing import IO

import numpy as np
from numpy.typing import NDArray
from websockets.exceptions import ConnectionClosed
from websockets.sync.client import ClientConnection, connect

from firmware_protocol import Decoder, Received, Samples
from server.live.hub import TICK_S
from tests.benchmarks.paced_board import BLOCK, BLOCK_S
from tests.benchmarks.pairs import Row

BATCH_S = 4.0  # of board time for each pair
WARM_S = 1.5  # not counted: imports, first windows, the clock of the board
SLACK_S = 0.005
SAID_S = 20.0
ENDED_S = 0.5  # without a new block: the board has come to its end


@contextmanager
def child(*arguments: str) -> Iterator[subprocess.Popen[str]]:
    """A Python process that ends with the block."""
    command = [sys.executable, "-m", *arguments]
    process = subprocess.Popen(
        command, stdin=subprocess.PIPE, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True
    )
    try:
        yield process
    finally:
        process.terminate()
        process.communicate(timeout=20)


def line_of(process: subprocess.Popen[str], stream: IO[str] | None) -> str:
    """The next line, within SAID_S. Raises RuntimeError with what the process complained of."""
    assert stream is not None
    too_long = threading.Timer(SAID_S, process.kill)
    too_long.start()
    text = stream.readline().strip()
    too_long.cancel()
    if not text:
        process.kill()
        raise RuntimeError(f"{process.args!r} said nothing: {process.communicate()[1]}")
    return text


def received(
    connection: ClientConnection, newest: Callable[[bytes], int | None], seconds: float
) -> list[tuple[int, float]]:
    """The newest block in each message that brought one, and when it came; `newest` of None: no block in it."""
    came: list[tuple[int, float]] = []
    until_s = time.monotonic() + seconds
    while (now_s := time.monotonic()) < until_s:
        try:
            message = connection.recv(timeout=until_s - now_s)
        except (TimeoutError, ConnectionClosed):
            break
        at_s = time.monotonic()
        assert isinstance(message, bytes)
        block = newest(message)
        if block is not None and (not came or block > came[-1][0]):
            came.append((block, at_s))
        elif came and at_s - came[-1][1] > ENDED_S:
            break
    return came


def of_the_service(seconds: float) -> NDArray[np.float64]:
    """Lateness of the messages of `python -m server serve`, s."""
    with tempfile.TemporaryDirectory() as data, child("tests.benchmarks.paced_board", str(seconds)) as board:
        pty = line_of(board, board.stdout)
        command = ("server", "serve", "--rig", f"paced={pty}", "--port", "0", "--data", str(Path(data) / "data"))
        with child(*command) as service:
            address = line_of(service, service.stderr).split()[3]
            host = address.removeprefix("http://").partition("/")[0]
            token = (Path(data) / "data" / "secret" / "token").read_text()
            headers = {"Authorization": f"Bearer {token}"}
            with connect(f"ws://{host}/live", additional_headers=headers, compression=None, max_size=None) as page:

                def newest(message: bytes) -> int | None:
                    header = json.loads(message[4 : 4 + int.from_bytes(message[:4], "little")])
                    if header["kind"] == "picture":
                        page.send(json.dumps({"drawn": header["number"]}))
                    board_s = (header.get("board") or {}).get("up_s")
                    return None if board_s is None else round(board_s / BLOCK_S) - 1

                came = received(page, newest, seconds + 2)
            if service.poll() is not None:
                raise RuntimeError(f"the service ended: {service.communicate()[1]}")
            written = json.loads(line_of(board, board.stdout))
    return lateness(came, written)


def of_the_least_program(seconds: float) -> NDArray[np.float64]:
    """Lateness of the messages of the reference, s."""

    def newest(message: bytes) -> int | None:
        found = Decoder().feed(message + b"\0")
        blocks = [one.message for one in found if isinstance(one, Received) and isinstance(one.message, Samples)]
        return blocks[-1].first_sample // BLOCK if blocks else None

    with child("tests.benchmarks.paced_board", str(seconds)) as board:
        pty = line_of(board, board.stdout)
        with child("tests.benchmarks.least_program", pty, str(TICK_S)) as program:
            port = line_of(program, program.stdout)
            with connect(f"ws://127.0.0.1:{port}/", compression=None, max_size=None) as viewer:
                came = received(viewer, newest, seconds + 0.5)
            written = json.loads(line_of(board, board.stdout))
    return lateness(came, written)


def lateness(came: list[tuple[int, float]], written: list[float]) -> NDArray[np.float64]:
    """From the writing of the first new block of each message to its coming, after the warm-up, s."""
    begin_s = written[0] + WARM_S
    late = []
    for (before, _), (newest, at_s) in pairwise(came):
        if newest < len(written) and written[before + 1] >= begin_s:
            late.append(at_s - written[before + 1])
    if len(late) < 0.8 * (written[-1] - begin_s) / TICK_S:
        raise RuntimeError(f"only {len(late)} messages came in {written[-1] - begin_s:.1f} s")
    return np.array(late)


def measure(pairs: int, batch_s: float = BATCH_S) -> list[Row]:
    """p50 against one tick and 5 ms, p99 against twice the reference's, over `pairs` batches of each in turn."""
    seconds = WARM_S + batch_s
    batches = [(of_the_service(seconds), of_the_least_program(seconds)) for _ in range(pairs)]
    ours, reference = (np.concatenate(late) * 1e3 for late in zip(*batches, strict=True))
    p50, p99 = np.percentile(ours, [50, 99])
    p50_least, p99_least = np.percentile(reference, [50, 99])
    limit_ms = (TICK_S + SLACK_S) * 1e3
    note = f"{p50:.1f} ms; least program {p50_least:.1f} ms; {ours.size} messages"
    note99 = f"{p99:.1f} ms; least program {p99_least:.1f} ms"
    return [
        Row(
            "7",
            "oldest frame of a message, byte to viewer, p50 against a tick and 5 ms",
            float(p50 / limit_ms),
            1.0,
            note,
        ),
        Row("7", "the same, p99 against the least program's", float(p99 / p99_least), 2.0, note99),
    ]
