"""Why a port could not be opened: who holds it, which group to join, what else is wrong."""

import errno
import fcntl
import os
import subprocess
import sys
from pathlib import Path

import pytest
import serial

from server.ingest import refusals
from server.ingest.refusals import explain, holder, permission_way_out
from tests.server.ingest.boards import PtyBoard

HOLD = (
    "import fcntl, os, sys; f = os.open(sys.argv[1], os.O_RDWR | os.O_NOCTTY); "
    "{} print('ok', flush=True); sys.stdin.read()"
)


@pytest.mark.parametrize("lock", ["fcntl.flock(f, fcntl.LOCK_EX);", ""], ids=["locked", "only open"])
def test_another_program_on_the_port_is_named_with_its_process(lock: str) -> None:
    board = PtyBoard(reads=False)
    os.close(board._slave)  # this process holds it no more
    board._slave = os.dup(board.master)
    child = subprocess.Popen(
        [sys.executable, "-c", HOLD.format(lock), board.url], stdin=subprocess.PIPE, stdout=subprocess.PIPE, text=True
    )
    assert child.stdout is not None
    assert child.stdin is not None
    assert child.stdout.readline() == "ok\n"
    name = Path(f"/proc/{child.pid}/comm").read_text().strip()
    assert holder(board.url) == f"{name} (process {child.pid})"
    child.stdin.close()
    child.wait()
    child.stdout.close()
    board.pull()


def test_nobody_is_named_where_nobody_can_be_found(monkeypatch: pytest.MonkeyPatch, tmp_path: Path) -> None:
    monkeypatch.setattr(refusals, "PROC", tmp_path)  # a system without /proc
    assert holder("/dev/null") == "another program"


def test_a_lock_of_the_same_number_on_another_disk_is_not_taken_for_ours(tmp_path: Path) -> None:
    one = tmp_path / "port"
    one.touch()
    with open(one) as held:
        fcntl.flock(held, fcntl.LOCK_EX)
        assert refusals._lock_holders(str(one)) == [os.getpid()]
        assert refusals._lock_holders("/dev/null") == []


@pytest.fixture
def device(tmp_path: Path) -> Path:
    path = tmp_path / "ttyACM0"
    path.touch()
    path.chmod(0o660)
    return path


def plant_group(monkeypatch: pytest.MonkeyPatch, name: str, members: list[str], joined: bool) -> None:
    import grp
    import pwd

    entry = grp.struct_group((name, "x", os.getgid(), members))
    monkeypatch.setattr(grp, "getgrgid", lambda number: entry)
    monkeypatch.setattr(pwd, "getpwuid", lambda number: pwd.struct_passwd(("ada", "x", 1000, 1000, "", "/", "/bin/sh")))
    monkeypatch.setattr(os, "getgroups", lambda: [os.getgid()] if joined else [])


def test_a_group_to_join_comes_with_the_command_and_the_new_login(
    device: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    plant_group(monkeypatch, "dialout", [], joined=False)
    state, text, detail = explain(serial.SerialException(errno.EACCES, "could not open port"), str(device))
    assert (state, text) == ("refused", f"You have no permission to open {device}")
    assert detail == "Its group is dialout: run sudo usermod -aG dialout $USER, then log out and in again."


def test_who_has_joined_but_not_logged_in_again_is_told_so(device: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plant_group(monkeypatch, "dialout", ["ada"], joined=False)
    assert (
        permission_way_out(str(device))
        == "You have joined its group dialout since you logged in: log out and in again."
    )


def test_a_group_that_may_not_either_is_not_recommended(device: Path, monkeypatch: pytest.MonkeyPatch) -> None:
    plant_group(monkeypatch, "dialout", [], joined=False)
    device.chmod(0o600)
    assert "udev rule" in permission_way_out(str(device))
    device.chmod(0o660)
    plant_group(monkeypatch, "root", [], joined=False)
    assert "udev rule" in permission_way_out(str(device))


@pytest.mark.parametrize(
    ("error", "state", "text"),
    [
        (
            serial.SerialException("could not open port 'COM9': FileNotFoundError(2, ...)"),
            "no_board",
            "There is no port X",
        ),
        (serial.SerialException(errno.ENODEV, "could not open port"), "no_board", "There is no port X"),
        (serial.SerialException(errno.EBUSY, "could not open port"), "refused", "X is in use by another program"),
        (ValueError("Invalid baud rate: 7"), "refused", "X cannot be set to this baud rate"),
        (
            serial.SerialException("Could not configure port: (5, 'Input/output error')"),
            "refused",
            "X is not a serial port",
        ),
        (OSError(errno.EIO, "Input/output error"), "refused", "X could not be opened ([Errno 5] Input/output error)"),
    ],
)
def test_what_the_system_says_becomes_a_sentence_with_a_way_out(error: Exception, state: str, text: str) -> None:
    said = explain(error, "X")
    assert said[:2] == (state, text)
    assert said[2].endswith(".")
