"""`slipring check-board` on a real pty, on a file, and where there is nothing."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from firmware_protocol import Status, encode_frame
from server.board_check import CHECKS
from tests.journeys.bench import board

COMMAND = [sys.executable, "-m", "server", "check-board"]


def checked(*arguments: str) -> subprocess.CompletedProcess[str]:
    return subprocess.run([*COMMAND, *arguments], capture_output=True, text=True, timeout=60, check=False)


@pytest.mark.parametrize("motor", ["cabin_ventilator", "tender_thruster"])
def test_a_software_board_on_a_pty_passes_and_a_report_is_kept(tmp_path: Path, motor: str) -> None:
    with board(tmp_path, "motor", motor) as (url, _):
        done = checked(url, "--seconds", "2", "--json", "--report", str(tmp_path / "report.md"))
    lines = [json.loads(line) for line in done.stdout.splitlines()]
    assert [line["check"] for line in lines] == [check.name for check in CHECKS]
    assert [line for line in lines if line["state"] == "failed"] == []
    assert done.returncode == 0
    assert "no safety device" in done.stderr
    report = (tmp_path / "report.md").read_text()
    assert "HB-" in report
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
    assert "not between 1 and 86400" in checked("/dev/null", "--seconds", "0").stderr
