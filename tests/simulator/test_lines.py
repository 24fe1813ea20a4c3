"""Real ptys and sockets: raw bytes both ways, readers that come and go, and no blocking."""

import os
import socket
import time
from collections.abc import Iterator

import pytest
import serial

from simulator.lines import BoardLine, PtyLine, TcpLine

ALL_BYTES = bytes(range(256))

posix = pytest.mark.skipif(os.name != "posix", reason="there are no ptys on this system")


@pytest.fixture(params=[pytest.param("pty", marks=posix), "tcp"])
def line(request: pytest.FixtureRequest) -> Iterator[BoardLine]:
    line: BoardLine = PtyLine() if request.param == "pty" else TcpLine(0)
    yield line
    line.close()


def opened(line: BoardLine) -> serial.SerialBase:
    """The other end, as the service opens it, once the line has noticed."""
    port = serial.serial_for_url(line.url, timeout=1.0)
    wait_until(line, is_open=True)
    return port


def wait_until(line: BoardLine, is_open: bool) -> None:
    for _ in range(200):
        line.wait(0.005)
        if line.is_open is is_open:
            return
    raise AssertionError(f"the line is not {'open' if is_open else 'closed'} after a second")


def test_every_byte_passes_both_ways_unchanged(line: BoardLine) -> None:
    with opened(line) as port:
        assert line.write(ALL_BYTES) == 256
        assert port.read(256) == ALL_BYTES
        port.write(ALL_BYTES)
        got = b""
        for _ in range(20):
            got += line.wait(0.05)
        assert got == ALL_BYTES


def test_it_knows_whether_somebody_has_it_open_again_and_again(line: BoardLine) -> None:
    line.wait(0.01)
    assert not line.is_open
    for _ in range(3):
        port = opened(line)
        assert line.write(b"hello") == 5
        assert port.read(5) == b"hello"
        port.close()
        wait_until(line, is_open=False)


def test_waiting_takes_as_long_as_asked_and_no_longer(line: BoardLine) -> None:
    for use in (None, opened(line)):
        started = time.monotonic()
        assert line.wait(0.1) == b""
        assert 0.09 < time.monotonic() - started < 0.6
        if use is not None:
            use.close()


def test_a_reader_that_does_not_read_fills_the_line_and_never_blocks_it(line: BoardLine) -> None:
    with opened(line):
        started, written = time.monotonic(), 0
        for _ in range(20_000):
            taken = line.write(bytes(1024))
            written += taken
            if not taken:
                break
        assert taken == 0
        assert written < 10_000_000
        assert time.monotonic() - started < 5.0


@posix
def test_what_an_earlier_reader_left_is_not_read_by_the_next() -> None:
    line = PtyLine()
    port = opened(line)
    line.write(b"old" * 1000)
    port.close()
    wait_until(line, is_open=False)
    with opened(line) as port:
        line.write(b"new")
        assert port.read(3) == b"new"
    line.close()


def test_a_second_caller_waits_until_the_first_has_gone() -> None:
    line = TcpLine(0)
    first = opened(line)
    second = socket.create_connection(("127.0.0.1", int(line.url.rsplit(":", 1)[1])), timeout=2.0)
    line.write(b"one")
    assert first.read(3) == b"one"
    first.close()
    wait_until(line, is_open=False)
    wait_until(line, is_open=True)
    line.write(b"two")
    assert second.recv(3) == b"two"
    second.close()
    line.close()


def test_only_this_machine_can_call() -> None:
    line = TcpLine(0)
    assert line.url.startswith("socket://127.0.0.1:")
    assert line._listener.getsockname()[0] == "127.0.0.1"
    line.close()
