"""The port with real ptys and sockets: what it says, what it hands over, what it survives."""

import errno
import os
import socket
import subprocess
import sys
import threading
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import pytest

from firmware_protocol import ClockRequest, Describe, Start, Status, Stop
from server.ingest import first_sight, line, port, refusals
from server.ingest.port import PAUSE_S, Port
from server.ingest.report import PortReport
from server.ingest.steady_clock import SteadyClock
from tests.server.ingest.boards import DESCRIPTION, PtyBoard, frames

SOON_S = 3.0


class Heard:
    """A port with everything that it said and handed over."""

    def __init__(self, url: str, baud: int = 2_000_000) -> None:
        self.reports: list[PortReport] = []
        self.chunks: list[tuple[bytes, float]] = []
        self.clock = SteadyClock()
        self.port = Port(url, baud, self.clock.utc_s, lambda *chunk: self.chunks.append(chunk), self.reports.append)
        self.port.start()

    @property
    def data(self) -> bytes:
        return b"".join(chunk for chunk, _ in self.chunks)

    @property
    def states(self) -> list[str]:
        return [report.state for report in self.reports]

    def until(self, happened: Callable[[], bool], within_s: float = SOON_S) -> float:
        """Seconds until it was so; fails if it was not in time."""
        start_s = time.monotonic()
        while not happened():
            assert time.monotonic() - start_s < within_s, (self.reports, self.data[:200])
            time.sleep(0.005)
        return time.monotonic() - start_s


@pytest.fixture
def open_port() -> Iterator[Callable[..., Heard]]:
    opened: list[Heard] = []

    def make(url: str, baud: int = 2_000_000) -> Heard:
        opened.append(Heard(url, baud))
        return opened[-1]

    yield make
    for heard in opened:
        heard.port.stop()


@pytest.fixture
def board() -> Iterator[PtyBoard]:
    made = PtyBoard()
    yield made
    made.pull()


def test_a_board_is_asked_described_and_live(board: PtyBoard, open_port: Callable[..., Heard]) -> None:
    heard = open_port(board.url)
    heard.until(lambda: "live" in heard.states)
    assert heard.states == ["connecting", "live"]
    kinds = [type(message) for message in board.heard]
    assert kinds[:3] == [ClockRequest, Describe, Start] or kinds[:3] == [Describe, Start, ClockRequest]
    assert heard.data.startswith(DESCRIPTION) or DESCRIPTION in heard.data


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


def test_a_board_that_started_anew_is_asked_again_when_the_rig_wants_it(
    board: PtyBoard, open_port: Callable[..., Heard]
) -> None:
    heard = open_port(board.url)
    heard.until(lambda: "live" in heard.states)
    count = sum(isinstance(message, Start) for message in board.heard)
    heard.port.ask()
    heard.until(lambda: sum(isinstance(message, Start) for message in board.heard) > count, 1.0)


def test_no_such_port_is_said_at_once_and_found_when_it_comes(open_port: Callable[..., Heard], tmp_path: Path) -> None:
    link = tmp_path / "board"
    heard = open_port(str(link))
    heard.until(lambda: heard.states == ["no_board"])
    assert heard.reports[0].text == f"There is no port {link}"
    assert heard.reports[0].detail.startswith("Plug the board in. ")
    board = PtyBoard()
    link.symlink_to(board.url)
    heard.until(lambda: heard.states[-1] == "live")
    board.pull()


def test_a_port_that_another_program_has_locked_is_busy_by_name(
    board: PtyBoard, open_port: Callable[..., Heard]
) -> None:
    import fcntl

    other = os.open(board.url, os.O_RDWR | os.O_NOCTTY)
    fcntl.flock(other, fcntl.LOCK_EX)
    heard = open_port(board.url)
    heard.until(lambda: heard.states == ["refused"])
    assert (
        heard.reports[0].text == f"{board.url} is in use by another rig of this service"
    )  # the lock is this process's
    os.close(other)
    heard.until(lambda: heard.states[-1] == "live")


def test_a_device_that_another_program_reads_without_a_lock_is_busy_too(
    board: PtyBoard, open_port: Callable[..., Heard], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(line, "carried_bytes_per_s", lambda device, baud: 1e6)  # as if the pty were a serial device
    script = "import os, sys; os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY); print('ok', flush=True); sys.stdin.read()"
    with subprocess.Popen(
        [sys.executable, "-c", script, board.url], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    ) as other:
        assert other.stdout is not None
        assert other.stdout.readline() == "ok\n"
        heard = open_port(board.url)
        heard.until(lambda: heard.states == ["refused"])
        assert heard.reports[0].text.endswith(f"(process {other.pid})")
        assert other.stdin is not None
        other.stdin.close()
        heard.until(lambda: heard.states[-1] == "live")


def test_two_rigs_never_share_a_port(board: PtyBoard, open_port: Callable[..., Heard]) -> None:
    first = open_port(board.url)
    first.until(lambda: "live" in first.states)
    second = open_port(board.url)
    second.until(lambda: second.states == ["refused"])
    assert "another rig of this service" in second.reports[0].text


def test_text_on_the_line_is_not_our_protocol_and_is_shown(
    open_port: Callable[..., Heard], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(first_sight, "PATIENCE_S", 0.5)  # three seconds for people
    board = PtyBoard(answer=lambda message: b"", greeting=b"")
    heard = open_port(board.url)
    heard.until(lambda: bool(heard.states))
    ending = threading.Event()

    def chatter() -> None:
        while not ending.wait(0.1):
            board.say(b"T=23.5 C\r\n")

    threading.Thread(target=chatter, daemon=True).start()
    heard.until(lambda: "refused" in heard.states, 5.0)
    assert 'text lines such as "T=23.5 C"' in heard.reports[-1].text
    assert "bytes with no good frame" in heard.reports[-1].text
    assert "baud" in heard.reports[-1].detail
    handed, asked = len(heard.chunks), len(board.heard)
    time.sleep(1.2)
    assert len(heard.chunks) == handed  # nothing of it reaches the recorder
    assert len(board.heard) == asked  # and a stranger is left alone
    ending.set()
    time.sleep(0.15)
    board.say(b"\0" + frames(Status(1000, False, 0)) + DESCRIPTION)
    heard.until(lambda: heard.states[-1] == "live")
    board.pull()


def test_a_board_that_is_too_fast_for_its_line_is_told_to_stop_and_refused(
    board: PtyBoard, open_port: Callable[..., Heard], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(line, "carried_bytes_per_s", lambda device, baud: baud / 10)  # a pty is limited by nothing
    heard = open_port(board.url, baud=1200)
    heard.until(lambda: "refused" in heard.states)
    assert heard.reports[-1].text.startswith("The line is too slow for this board: it sends ")
    assert heard.reports[-1].text.endswith("the line carries 0.1 kB/s")
    heard.until(lambda: any(isinstance(message, Stop) for message in board.heard))


@pytest.mark.parametrize(
    ("device", "carried"),
    [("/dev/ttyUSB0", 92_160.0), ("/dev/ttyS0", 92_160.0), ("/dev/ttyACM3", 1_200_000.0), ("/dev/pts/7", None)],
)
def test_what_a_line_carries_is_its_baud_rate_but_for_usb_and_ptys(device: str, carried: float | None) -> None:
    assert line.carried_bytes_per_s(device, 921_600) == carried


def test_a_mistake_of_ours_is_told_and_the_port_is_tried_again(
    board: PtyBoard,
    open_port: Callable[..., Heard],
    monkeypatch: pytest.MonkeyPatch,
    caplog: pytest.LogCaptureFixture,
) -> None:
    real = first_sight.FirstSight.feed
    fed = 0

    def feed(sight: first_sight.FirstSight, chunk: bytes) -> None:
        nonlocal fed
        fed += 1
        if fed == 1:
            raise ZeroDivisionError("planted")
        real(sight, chunk)

    monkeypatch.setattr(first_sight.FirstSight, "feed", feed)
    heard = open_port(board.url)
    heard.until(lambda: heard.states[-1:] == ["live"])
    (told,) = [report for report in heard.reports if report.state == "refused"]
    assert told.retry_s == 1.0
    assert told.text == f"Slipring made a mistake while reading {board.url} (ZeroDivisionError('planted'))"
    assert "planted" in caplog.text


def test_a_silent_board_is_waited_for_in_words(
    open_port: Callable[..., Heard], monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(first_sight, "PATIENCE_S", 0.5)
    board = PtyBoard(answer=lambda message: b"")
    heard = open_port(board.url)
    heard.until(lambda: len(heard.reports) > 1, 5.0)
    assert heard.states == ["connecting", "connecting"]
    assert heard.reports[-1].text == "The port is open, but not one byte has come"
    board.pull()


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


@pytest.mark.parametrize(
    ("url", "state", "text"),
    [
        ("socket://127.0.0.1", "refused", '"socket://127.0.0.1" is not an address'),
        ("socket://127.0.0.1:99999", "refused", "is not an address"),
        ("socket://127.0.0.1:1", "no_board", "Nothing listens at socket://127.0.0.1:1"),
        ("nonsense://x", "refused", '"nonsense://x" is not a port'),
        ("/dev/null", "refused", "/dev/null is not a serial port"),
        ("/", "refused", "/ is not a serial port"),
        ("/etc/hostname", "refused", "/etc/hostname is not a serial port"),
    ],
)
def test_what_is_no_port_is_told_in_words(url: str, state: str, text: str, open_port: Callable[..., Heard]) -> None:
    heard = open_port(url)
    heard.until(lambda: bool(heard.reports))
    assert heard.reports[0].state == state
    assert text in heard.reports[0].text
    assert heard.reports[0].detail.endswith(".")


def test_a_port_stops_at_once_whatever_it_is_doing(board: PtyBoard, open_port: Callable[..., Heard]) -> None:
    for url in (board.url, "/dev/no-such-port"):
        heard = open_port(url)
        heard.until(lambda heard=heard: bool(heard.reports))  # type: ignore[misc]  # bound per round
        start_s = time.monotonic()
        heard.port.stop()
        assert time.monotonic() - start_s < 0.5
        assert not [thread for thread in threading.enumerate() if thread.name == f"port {url}"]


def test_permission_names_the_group_of_the_device_and_the_command(
    tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    import grp

    device = tmp_path / "ttyACM0"
    device.touch()
    device.chmod(0o660)
    group = next(each for each in grp.getgrall() if each.gr_name == "dialout")
    if os.getuid() == 0:
        os.chown(device, 0, group.gr_gid)
    else:
        pytest.skip("only root can give a file to the group dialout")
    monkeypatch.setattr(os, "getgroups", lambda: [1000])
    error = PermissionError(errno.EACCES, "Permission denied")
    state, text, detail = refusals.explain(error, str(device))
    assert (state, text) == ("refused", f"You have no permission to open {device}")
    assert detail == "Its group is dialout: run sudo usermod -aG dialout $USER, then log out and in again."
