"""`slipring check-board` on a real pty, on a file, and where there is nothing."""

import contextlib
import json
import os
import select
import subprocess
import sys
import time
import tty
from collections.abc import Callable
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path

import numpy as np
import pytest

from firmware_protocol import Identity, Status, encode_frame
from server.board_check import CHECKS
from tests.journeys.bench import board
from tests.server.board_check.boards import Wire, counter_described

pytestmark = pytest.mark.alone

COMMAND = [sys.executable, "-m", "server", "check-board"]


def checked(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([*COMMAND, *arguments], capture_output=True, text=True, timeout=60, check=False)


@pytest.fixture(scope="module")
def talks(tmp_path_factory: pytest.TempPathFactory) -> dict[str, tuple[subprocess.CompletedProcess[str], str]]:
    """Three software boards on their ptys, checked at the same time: what the command printed, and its report."""
    folder = tmp_path_factory.mktemp("boards")
    three_words(folder / "words")
    boards = {
        "ventilator": ("motor", "cabin_ventilator"),
        "thruster": ("motor", "tender_thruster"),
        "player": ("play", str(folder / "words.npz"), "--loop"),
    }

    def talk(name: str) -> tuple[subprocess.CompletedProcess[str], str]:
        (own := folder / name).mkdir()
        with board(own, *boards[name]) as (url, _):
            done = checked(url, "--seconds", "2", "--json", "--report", str(own / "report.md"))
        return done, (own / "report.md").read_text()

    with ThreadPoolExecutor() as pool:
        return dict(zip(boards, pool.map(talk, boards), strict=True))


def three_words(path: Path) -> None:
    """A recording whose groups come in words of 12, 16 and 24 bits, each at its own rate, and a slow channel."""
    wave = np.sin(2 * np.pi * 50 * np.arange(2000) / 2000)
    slow = np.arange(10) * 0.1
    np.savez(path.with_suffix(".npz"), u=325 * wave, i=9 * wave[::4], angle=3 * wave[::2], t=20 + slow, times=slow)
    channels = [
        'data="u"\nrole="voltage"\nplace="supply"\nunit="V"\nlow=-400.0\nhigh=400.0\nrate_hz=2000\nbits=16',
        'data="i"\nrole="current"\nplace="L1"\nunit="A"\nlow=-10.0\nhigh=10.0\nrate_hz=500\nbits=12',
        'data="angle"\nrole="position"\nplace="shaft"\nunit="rad"\nlow=-4.0\nhigh=4.0\nrate_hz=1000\nbits=24',
        'data="t"\nrole="temperature"\nunit="degC"\nlow=0.0\nhigh=99.0\ntimes="times"\ninterval_max_s=0.3',
    ]
    path.with_suffix(".toml").write_text("".join(f"[[channel]]\n{each}\n" for each in channels))


@pytest.mark.long
@pytest.mark.parametrize("name", ["ventilator", "thruster", "player"])
def test_a_software_board_on_a_pty_passes_and_a_report_is_kept(
    talks: dict[str, tuple[subprocess.CompletedProcess[str], str]], name: str
) -> None:
    done, report = talks[name]
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert [line["check"] for line in lines] == [check.name for check in CHECKS]
    assert [line for line in lines if line["state"] == "failed"] == []
    assert done.returncode == 0
    assert "no safety device" in done.stderr
    assert ("PL-0001" if name == "player" else "HB-0001") in report
    assert report.count("| passed |") == sum(line["state"] == "passed" for line in lines) > 15


def test_a_file_is_checked_without_asking_and_what_fails_says_what_to_mend(tmp_path: Path) -> None:
    file = tmp_path / "bytes"
    file.write_bytes(b"".join(encode_frame(Status(tick, True, 0), sequence=k) for k, tick in enumerate((0, 250_000))))
    done = checked("--bytes", str(file))
    assert done.returncode == 1
    assert done.stdout.startswith("failed     identity                no identity came\n")
    assert "Send an Identity of this version" in done.stdout
    assert "(SPEC.md, section 10)" in done.stdout
    assert "nothing was asked of this board" in done.stdout


def test_what_cannot_be_tried_is_a_sentence(tmp_path: Path) -> None:
    done = checked(str(tmp_path / "ttyACM0"))
    assert (done.returncode, done.stdout) == (2, "")
    assert f"There is no port {tmp_path}/ttyACM0" in done.stderr
    assert checked("--bytes", str(tmp_path / "none")).returncode == 2
    assert "not between 1 and 600" in checked("/dev/null", "--seconds", "0").stderr


def spoken(says: Callable[[bytes], bytes], seconds: float, *options: str) -> subprocess.CompletedProcess[str]:
    """The command on a pty on which something speaks, asked every 5 ms with what it heard, and is then pulled out."""
    ours, theirs = os.openpty()
    tty.setraw(theirs)
    os.set_blocking(ours, False)
    command = [*COMMAND, os.ttyname(theirs), "--seconds", "2", "--json", *options]
    with subprocess.Popen(command, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True) as process:
        end_s = time.monotonic() + seconds
        while time.monotonic() < end_s and process.poll() is None:
            with contextlib.suppress(BlockingIOError):
                os.write(ours, says(os.read(ours, 4096) if select.select([ours], [], [], 0.0)[0] else b""))
            time.sleep(0.005)
        os.close(ours)
        os.close(theirs)
        said, talk = process.communicate(timeout=30)
    return subprocess.CompletedProcess(command, process.returncode, said, talk)


def test_a_line_without_a_board_is_told_at_once_and_is_no_failed_check() -> None:
    """Text lines, as many boards send them from the maker, and silence."""
    text, silence = spoken(lambda _: b"volts 12\r\n", 20.0), spoken(lambda _: b"", 20.0)
    assert (text.returncode, text.stdout) == (silence.returncode, silence.stdout) == (2, "")
    assert 'text lines such as "volts 12"' in text.stderr
    assert "not one byte came" in silence.stderr


def test_a_board_that_goes_away_in_the_middle_is_a_failed_check_and_no_lost_result() -> None:
    wire = Wire(counter_described)
    done = spoken(lambda heard: wire.step(), 2.0, "--listen")
    lines = {line["check"]: line for line in map(json.loads, done.stdout.splitlines())}
    assert done.returncode == 1, done.stderr
    assert [name for name, line in lines.items() if line["state"] == "failed"] == ["port"]
    assert lines["port"]["what"].startswith("the port went away at: ")
    assert lines["Stop"]["what"] == "nothing was asked of this board"


def test_a_report_that_cannot_be_written_is_told_before_the_board_is_asked(tmp_path: Path) -> None:
    done = checked("/dev/null", "--report", str(tmp_path / "no folder" / "report.md"))
    assert done.returncode == 2
    assert "the report cannot be written" in done.stderr


def test_what_a_board_calls_itself_cannot_command_a_terminal(tmp_path: Path) -> None:
    file = tmp_path / "bytes"
    file.write_bytes(encode_frame(Identity(1, 0, 1, 1000, 0, 0, serial="\x1b]0;owned\x07|x"), sequence=0, boot=1))
    done = checked("--bytes", str(file), "--report", str(tmp_path / "report.md"))
    assert "owned" in done.stdout
    assert not {"\x1b", "\x07", "\x9b"} & set(done.stdout + (tmp_path / "report.md").read_text())
    assert "\\|x" in (tmp_path / "report.md").read_text()
