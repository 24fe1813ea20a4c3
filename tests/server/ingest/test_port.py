"""The port with real ptys and sockets: what it says, what it hands over, what it survives."""

import os
import socket
import threading
import time
from collections.abc import Callable
from dataclasses import replace
from pathlib import Path

import pytest

from firmware_protocol import ClockRequest, Describe, Message, Start
from server.ingest import port
from server.ingest.port import PAUSE_S
from tests.server.ingest.boards import DESCRIPTION, IDENTITY, PtyBoard, channel, frames
from tests.server.ingest.heard import Heard

pytestmark = pytest.mark.alone


def test_a_board_is_asked_described_and_live(board: PtyBoard, open_port: Callable[..., Heard]) -> None:
    heard = open_port(board.url)
    heard.until(lambda: "live" in heard.states)
    assert heard.states == ["connecting", "live"]
    heard.until(lambda: Start in [type(message) for message in board.heard])
    kinds = [type(message) for message in board.heard if not isinstance(message, ClockRequest)]
    assert kinds[:2] == [Describe, Start]  # what is not understood is not asked for
    heard.until(lambda: DESCRIPTION in heard.data)


def test_a_board_of_the_candidate_is_asked_in_its_own_version_and_read(
    open_port: Callable[..., Heard], monkeypatch: pytest.MonkeyPatch
) -> None:
    """SPEC.md of 0.10: to a Describe of another version it answers with its Identity alone."""
    monkeypatch.setattr(port, "DESCRIBE_EVERY_S", 0.05)
    who = replace(IDENTITY, major=0, minor=10)

    def answers(message: Message) -> bytes:
        if isinstance(message, Describe):
            return frames(who, channel()) if message == Describe(0, 10) else frames(who)
        return b""

    board = PtyBoard(answers)
    try:
        heard = open_port(board.url)
        heard.until(lambda: "live" in heard.states)
        heard.until(lambda: Start() in board.heard)
    finally:
        board.pull()
    assert "refused" not in heard.states
    asked = [message for message in board.heard if isinstance(message, Describe)]
    assert (asked[0], asked[-1]) == (Describe(1, 0), Describe(0, 10))


def test_every_byte_is_handed_over_once_and_in_order(board: PtyBoard, open_port: Callable[..., Heard]) -> None:
    heard = open_port(board.url)
    heard.until(lambda: "live" in heard.states)
    sent = os.urandom(300_000)
    board.say(sent)
    heard.until(lambda: heard.data.endswith(sent[-50:]))
    assert sent in heard.data


def test_hand_overs_are_few_however_often_the_board_sends(board: PtyBoard, open_port: Callable[..., Heard]) -> None:
    heard = open_port(board.url)
    heard.until(lambda: "live" in heard.states)
    before, start_s = len(heard.chunks), time.monotonic()
    while time.monotonic() - start_s < 0.5:
        board.say(b"x" * 50)
        time.sleep(0.0005)
    assert len(heard.chunks) - before <= 0.5 / PAUSE_S + 2


def test_arrival_times_are_utc_and_never_go_back(board: PtyBoard, open_port: Callable[..., Heard]) -> None:
    before_s = time.time()
    heard = open_port(board.url)
    heard.until(lambda: len(heard.chunks) >= 2)
    arrivals = [arrival_s for _, arrival_s in heard.chunks]
    assert arrivals == sorted(arrivals)
    assert before_s - 0.1 <= arrivals[0] <= arrivals[-1] <= time.time() + 0.1


def test_the_clock_is_asked_often_at_first_and_then_at_its_pace(
    board: PtyBoard, open_port: Callable[..., Heard], monkeypatch: pytest.MonkeyPatch
) -> None:
    assert port.CLOCK_EVERY_S == 2.0
    monkeypatch.setattr(port, "CLOCK_EVERY_S", 0.7)
    heard = open_port(board.url)

    def tokens() -> list[int]:
        return [message.token for message in board.heard if isinstance(message, ClockRequest)]

    heard.until(lambda: len(tokens()) >= 7, 5.0)
    gaps_s = [(b - a) / 1e6 for a, b in zip(tokens(), tokens()[1:], strict=False)]
    assert all(0.15 < gap < 0.6 for gap in gaps_s[:3])
    assert 0.65 < gaps_s[-1] < 1.4
    assert abs(tokens()[-1] / 1e6 - heard.clock.utc_s()) < 1.0


def test_a_board_that_never_reads_blocks_nothing(open_port: Callable[..., Heard]) -> None:
    board = PtyBoard(reads=False, greeting=DESCRIPTION)
    heard = open_port(board.url)
    os.set_blocking(board.master, False)
    heard.until(lambda: "connecting" in heard.states)
    for _ in range(20):  # fills what the line holds towards the board
        heard.port.ask()
        time.sleep(0.02)
    board.say(DESCRIPTION)
    heard.until(lambda: "live" in heard.states)
    board.say(b"tick")
    assert heard.until(lambda: heard.data.endswith(b"tick")) < 0.5
    start_s = time.monotonic()
    heard.port.stop()
    assert time.monotonic() - start_s < 1.0
    board.pull()


def test_a_pulled_cable_is_told_and_the_board_is_back_within_two_seconds(
    open_port: Callable[..., Heard], tmp_path: Path
) -> None:
    first, link = PtyBoard(), tmp_path / "board"
    link.symlink_to(first.url)
    heard = open_port(str(link))
    heard.until(lambda: "live" in heard.states)
    first.pull()
    heard.until(lambda: heard.states[-1] == "disconnected")
    assert heard.reports[-1].retry_s == 1.0
    assert str(link) in heard.reports[-1].text
    second = PtyBoard()
    link.unlink()
    link.symlink_to(second.url)
    assert heard.until(lambda: heard.states[-1] == "live") < 2.0
    second.pull()


def test_a_pty_that_has_ended_is_never_opened_again(board: PtyBoard, open_port: Callable[..., Heard]) -> None:
    """Its name may be a shell's by then: reading it would take what a person types there."""
    heard = open_port(board.url)
    heard.until(lambda: "live" in heard.states)
    board.pull()
    heard.until(lambda: heard.states[-1] == "disconnected")
    assert (heard.reports[-1].retry_s, heard.reports[-1].is_open) == (None, False)
    assert heard.reports[-1].detail == "Start the board and give the rig its new port."
    heard.until(lambda: not heard.port.thread.is_alive())


def test_a_board_that_started_anew_is_asked_again_when_the_rig_wants_it(
    board: PtyBoard, open_port: Callable[..., Heard]
) -> None:
    heard = open_port(board.url)
    heard.until(lambda: "live" in heard.states)
    count = sum(isinstance(message, Start) for message in board.heard)
    heard.port.ask()
    heard.until(lambda: sum(isinstance(message, Start) for message in board.heard) > count, 1.0)


def test_a_socket_is_a_port_too(open_port: Callable[..., Heard]) -> None:
    with socket.create_server(("127.0.0.1", 0)) as server:
        url = f"socket://127.0.0.1:{server.getsockname()[1]}"
        heard = open_port(url)
        connection, _ = server.accept()
        with connection:
            sent = DESCRIPTION + os.urandom(100_000)
            connection.sendall(sent)
            heard.until(lambda: heard.data == sent)
            assert heard.states[-1] == "live"
            assert heard.chunks[-1][1] - heard.chunks[0][1] < 1.0
        heard.until(lambda: heard.states[-1] == "disconnected")
        again, _ = server.accept()
        again.sendall(DESCRIPTION)
        heard.until(lambda: heard.states[-1] == "live")
        again.close()


def test_a_port_stops_at_once_whatever_it_is_doing(board: PtyBoard, open_port: Callable[..., Heard]) -> None:
    for url in (board.url, "/dev/no-such-port"):
        heard = open_port(url)
        heard.until(lambda heard=heard: bool(heard.reports))  # type: ignore[misc]  # bound per round
        start_s = time.monotonic()
        heard.port.stop()
        assert time.monotonic() - start_s < 0.5
        assert not [thread for thread in threading.enumerate() if thread.name == f"port {url}"]
