"""Ports that are not there, busy, forbidden, silent, too slow, or speak something else: on real ptys and sockets."""

import errno
import os
import subprocess
import sys
import threading
import time
from collections.abc import Callable
from pathlib import Path

import pytest

from firmware_protocol import Status, Stop
from server.ingest import first_sight, line, refusals
from tests.server.ingest.boards import DESCRIPTION, PtyBoard, frames
from tests.server.ingest.heard import Heard

pytestmark = pytest.mark.alone


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
    assert heard.reports[-1].text.startswith("This is not a Slipring board: it sends text lines")
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

    def feed(sight: first_sight.FirstSight, chunk: bytes, now_s: float | None = None) -> None:
        nonlocal fed
        fed += 1
        if fed == 1:
            raise ZeroDivisionError("planted")
        real(sight, chunk, now_s)

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


def test_no_address_of_a_port_writes_to_a_file(open_port: Callable[..., Heard], tmp_path: Path) -> None:
    precious = tmp_path / "precious"
    precious.write_text("kept")
    for url in (f"spy:///dev/ptmx?file={precious}", f"spy://{precious}", f"alt://{precious}"):
        heard = open_port(url)
        heard.until(lambda heard=heard: bool(heard.reports))  # type: ignore[misc]  # bound per round
        assert heard.reports[0].state == "refused"
        assert "neither a device nor a socket" in heard.reports[0].text
    assert precious.read_text() == "kept"
