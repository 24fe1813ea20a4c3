"""`slipring read` as a person types it."""

import json
import subprocess
import sys
from pathlib import Path

import pytest

from server.calibration.text import calibration_text
from server.commands.read import main
from server.config import RigSettings
from server.runs.library import Library
from server.runs.recording import Recording
from tests.server.calibration.boards import BOARD, RUNNING, gained
from tests.server.runs.recordings import recorded_run
from tests.server.tiny_board import TinyBoard

WIRE = TinyBoard().wire()


def slipring(*arguments: str, data: bytes = b"") -> subprocess.CompletedProcess[bytes]:
    return subprocess.run(
        [sys.executable, "-m", "server", "read", *arguments], input=data, capture_output=True, check=False
    )


@pytest.fixture
def wire(tmp_path: Path) -> Path:
    path = tmp_path / "fan.wire"
    path.write_bytes(WIRE)
    return path


def test_a_file_and_standard_input_say_the_same(wire: Path) -> None:
    by_file, by_input = slipring(str(wire)), slipring("-", data=WIRE)
    assert (by_file.returncode, by_file.stderr) == (0, b"")
    lines = [json.loads(line) for line in by_file.stdout.splitlines()]
    assert sorted(by_file.stdout.splitlines()) == sorted(by_input.stdout.splitlines())
    assert next(line["text"] for line in lines if line["kind"] == "event") == "Power came on"


def test_it_streams_while_the_bytes_still_come() -> None:
    with subprocess.Popen(
        [sys.executable, "-m", "server", "read", "-"], stdin=subprocess.PIPE, stdout=subprocess.PIPE
    ) as process:
        assert process.stdin is not None
        assert process.stdout is not None
        process.stdin.write(WIRE[:30_000])
        process.stdin.flush()
        assert json.loads(process.stdout.readline())["kind"] == "described"
        assert json.loads(process.stdout.readline())["kind"] == "readings"
        process.stdin.write(WIRE[30_000:])
        process.stdin.close()
        assert process.stdout.read()
        assert process.wait(10) == 0


def test_a_reader_that_has_had_enough_ends_it_quietly(wire: Path) -> None:
    wire.write_bytes(WIRE * 3)
    done = subprocess.run(
        f"{sys.executable} -m server read {wire} | head -n 1; echo ${{PIPESTATUS[0]}}",
        shell=True,
        executable="/bin/bash",
        capture_output=True,
        check=False,
    )
    assert done.stderr == b""
    assert done.stdout.splitlines()[-1] == b"0"


def test_a_run_says_marks_and_why_it_closed(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    library = Library(tmp_path / "runs")
    recording = Recording(RigSettings("bench"), library)
    recording.chunk(WIRE, 1_795_615_320.0)
    recording.disconnected(1_795_615_321.0)
    recording.end_run(1_795_615_322.0)
    recording.stop(1_795_615_323.0)
    (run,) = library.runs()
    library.close()
    assert main([str(tmp_path / "runs" / run.name)]) == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    assert [line["text"] for line in lines if line["kind"] == "mark"] == [
        "The connection to the board was lost",
        "ended by a person",
    ]
    assert sum(line["kind"] == "readings" for line in lines) > 50


@pytest.fixture
def run(tmp_path: Path) -> Path:
    library = Library(tmp_path / "runs")
    name = recorded_run(library)
    library.close()
    return tmp_path / "runs" / name


def test_of_a_run_that_cannot_be_read_it_is_said_what_and_where(run: Path, capsys: pytest.CaptureFixture[str]) -> None:
    segment = run / "0001.run"
    size = segment.stat().st_size
    segment.write_bytes(bytes(size))
    assert main([str(run)]) == 1
    said = f"0001.run: {size} bytes from byte 0 on hold no record"
    told = capsys.readouterr()
    assert told.err == f"slipring: {run}: nothing of this run could be read: {said}.\n"
    assert [json.loads(line)["text"] for line in told.out.splitlines()] == [said]


def test_a_run_that_can_be_read_in_part_is_read_and_its_damage_is_no_success(
    run: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    segment = run / "0001.run"
    whole = segment.read_bytes()
    segment.write_bytes(whole[:20_000] + bytes(2000) + whole[22_000:])
    assert main([str(run)]) == 1
    told = capsys.readouterr()
    assert "0001.run: " in told.err
    assert " on hold no record, behind 2026-11-25 14:02:01 UTC; and 1 more, which" in told.err  # entries are missing
    assert sum(json.loads(line)["kind"] == "readings" for line in told.out.splitlines()) > 20


def test_settings_given_are_used_for_the_motor(wire: Path, tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    settings = tmp_path / "mine.toml"
    settings.write_text('[rig]\n[motor]\nname = "mine"\n')
    assert main([str(wire), "--rig", str(settings)]) == 0
    lines = [json.loads(line) for line in capsys.readouterr().out.splitlines()]
    reasons = [line["doubtful"]["run_state"] for line in lines if line["kind"] == "readings" and "run_state" in line]
    assert set(reasons) == {"motor type not set"}


@pytest.mark.parametrize(
    ("content", "words"),
    [
        (b"", "0 bytes without one good frame"),
        (b"hello" * 50, "250 bytes without one good frame"),
        (WIRE[5000:], "description"),
    ],
)
def test_bytes_that_mean_nothing_are_a_failure_with_a_sentence(
    tmp_path: Path, capsys: pytest.CaptureFixture[str], content: bytes, words: str
) -> None:
    path = tmp_path / "file"
    path.write_bytes(content)
    assert main([str(path)]) == 1
    assert words in capsys.readouterr().err


def test_what_cannot_be_opened_is_a_failure_that_names_it(tmp_path: Path, capsys: pytest.CaptureFixture[str]) -> None:
    assert main([str(tmp_path / "nothing.wire")]) == 1
    assert f'slipring: there is no file and no run "{tmp_path}/nothing.wire"' in capsys.readouterr().err
    assert main(["n" * 300]) == 1  # names have 255 bytes at most
    assert "nnn cannot be read: File name too long." in capsys.readouterr().err
    assert main([str(tmp_path)]) == 1
    assert "there is no recording in this folder" in capsys.readouterr().err
    settings = tmp_path / "bad.toml"
    settings.write_text("[motor]\nkind = 5\n")
    assert main([str(tmp_path), "--rig", str(settings)]) == 1
    assert "bad.toml, line 2" in capsys.readouterr().err
    settings.write_text("x = " + "[" * 5000)
    assert main([str(tmp_path), "--rig", str(settings)]) == 1
    assert "bad.toml: values in it are nested too deeply" in capsys.readouterr().err


def test_a_mistyped_option_is_exit_code_2() -> None:
    done = slipring("file", "--rigg", "x")
    assert done.returncode == 2
    assert b"did you mean --rig?" in done.stderr
    assert slipring().returncode == 2


def test_a_run_is_read_with_the_calibration_of_its_time_of_today_or_with_none(
    tmp_path: Path, capsysbinary: pytest.CaptureFixture[bytes]
) -> None:
    def last_a(*arguments: str) -> float:
        assert main(list(arguments)) == 0
        lines = [json.loads(line) for line in capsysbinary.readouterr().out.splitlines()]
        return float([line["current_rms_a"] for line in lines if line.get("current_rms_a")][-1])

    library = Library(tmp_path / "runs")
    recording = Recording(RigSettings("bench"), library, calibrations={"T-1": calibration_text(gained(1.02))})
    recording.chunk(BOARD.wire(RUNNING[:2]), 1_795_615_320.0)
    recording.stop(1_795_615_330.0)
    (run,) = [str(path) for path in (tmp_path / "runs").iterdir() if path.is_dir()]
    library.close()
    file, wire = tmp_path / "calibration" / "T-1.toml", tmp_path / "elsewhere.wire"
    file.parent.mkdir()
    file.write_text(calibration_text(gained(1.04)))
    wire.write_bytes(BOARD.wire(RUNNING[:2]))
    none = last_a(run, "--calibration", "none")
    assert last_a(run) / none == pytest.approx(1.02)
    assert last_a(run, "--calibration", "today") / none == pytest.approx(1.04)
    by_name = (Path(run).name, "--data", str(tmp_path))
    assert last_a(*by_name) == last_a(run)
    assert last_a(*by_name, "--calibration", "today") / none == pytest.approx(1.04)
    assert last_a(str(wire)) == pytest.approx(none)
    assert last_a(str(wire), "--calibration", "today", "--data", str(tmp_path)) / none == pytest.approx(1.04)
    file.write_text("[board]\nserial = 3\n")
    assert main([run, "--calibration", "today"]) == 1
    assert b"T-1.toml, line 2: serial = 3" in capsysbinary.readouterr().err
