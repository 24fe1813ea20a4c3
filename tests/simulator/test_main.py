"""The command line as a person or the service uses it: real processes, real ptys, short."""

import contextlib
import json
import os
import select
import subprocess
import sys
import time
from collections.abc import Callable, Iterator
from pathlib import Path

import numpy as np
import pytest
import serial

from firmware_protocol import ChannelDescription, Decoder, Describe, Identity, Message, Received, Samples, encode_frame
from simulator.__main__ import boot_number, main
from simulator.bench import BENCH_KEYS
from tests.simulator.fakes import messages

posix = pytest.mark.skipif(os.name != "posix", reason="there are no ptys on this system")
START_S = 60.0  # on a machine that has never compiled the models

Starter = Callable[..., "subprocess.Popen[bytes]"]


@pytest.fixture
def start() -> Iterator[Starter]:
    """Starts `python -m simulator` as the service does; whatever still runs at the end is killed."""
    running = []

    def begin(*arguments: str) -> "subprocess.Popen[bytes]":
        pipe = subprocess.PIPE
        process = subprocess.Popen(
            [sys.executable, "-m", "simulator", *arguments], stdin=pipe, stdout=pipe, stderr=pipe
        )
        running.append(process)
        return process

    yield begin
    for process in running:
        process.kill()
        process.wait()
        for pipe in (process.stdin, process.stdout, process.stderr):
            assert pipe is not None
            with contextlib.suppress(BrokenPipeError):
                pipe.close()


def url_of(process: "subprocess.Popen[bytes]") -> str:
    assert process.stdout is not None
    ready, _, _ = select.select([process.stdout], [], [], START_S)
    assert ready, "no address came"
    return process.stdout.readline().decode().strip()


def heard(url: str, until: Callable[[list[Message]], bool], limit_s: float = 5.0) -> list[Message]:
    """Open the line, ask for the description, and read until enough has come."""
    decoder, got = Decoder(), list[Message]()
    with serial.serial_for_url(url, timeout=0.05) as port:
        port.write(encode_frame(Describe(), sequence=0))
        end_s = time.monotonic() + limit_s
        while not until(got):
            assert time.monotonic() < end_s, got
            got += [found.message for found in decoder.feed(port.read(2000)) if isinstance(found, Received)]
    return got


def enough(got: list[Message]) -> bool:
    return {Identity, ChannelDescription, Samples} <= {type(message) for message in got}


@posix
def test_a_motor_on_a_pty_is_read_again_and_again_and_ends_with_its_standard_input(start: Starter) -> None:
    process = start("motor", "cabin_ventilator", "--serial", "HB-0042")
    url = url_of(process)
    assert url.startswith("/dev/")
    for _ in range(2):
        got = heard(url, enough)
        assert next(m for m in got if isinstance(m, Identity)).serial == "HB-0042"
    assert process.stdin is not None
    process.stdin.close()
    assert process.wait(5) == 0
    assert process.stdout is not None
    assert process.stdout.read() == b""  # the address was the only line


def test_a_motor_on_tcp_and_real_time(start: Starter) -> None:
    url = url_of(start("motor", "tender_thruster", "--tcp", "0"))
    assert url.startswith("socket://127.0.0.1:")
    begun = time.monotonic()
    got = heard(url, lambda got: sum(isinstance(m, Samples) for m in got) > 282)
    blocks = [m for m in got if isinstance(m, Samples)]
    board_s = (blocks[-1].tick - blocks[0].tick) / 1e6
    assert board_s == pytest.approx(time.monotonic() - begun, abs=0.5)


def test_a_later_start_has_a_higher_boot_number(monkeypatch: pytest.MonkeyPatch) -> None:
    boots = []
    for now_s in (1.9e9, 1.9e9 + 1.5, 2.0e9):
        monkeypatch.setattr(time, "time", lambda now_s=now_s: now_s)
        boots.append(boot_number())
    assert boots[0] < boots[1] < boots[2] < 2**32


@posix
def test_ctrl_c_ends_it_without_a_word(start: Starter) -> None:
    process = start("motor", "cabin_ventilator")
    url_of(process)
    process.send_signal(2)
    assert process.wait(5) == 0
    assert process.stderr is not None
    assert process.stderr.read() == b""


@pytest.mark.long
def test_models_that_were_compiled_once_are_compiled_no_more(tmp_path: Path) -> None:
    environment = {**os.environ, "NUMBA_CACHE_DIR": str(tmp_path)}

    def kept_after(*arguments: str) -> set[Path]:
        subprocess.run([sys.executable, "-m", "simulator", *arguments], env=environment, check=True, timeout=300)
        return {file for file in tmp_path.rglob("*") if file.is_file()}

    kept = kept_after("compile")
    assert len(kept) > len(BENCH_KEYS)
    for motor in BENCH_KEYS:
        assert kept_after("bytes", motor, "--seconds", "0.1", "--out", os.devnull) == kept


def _recording(folder: Path) -> Path:
    path = folder / "hum.npz"
    np.savez(path, volts=np.sin(2 * np.pi * 50 * np.arange(1000) / 1000))
    path.with_suffix(".toml").write_text(
        '[[channel]]\ndata = "volts"\nrole = "voltage"\nunit = "V"\nlow = -2.0\nhigh = 2.0\nrate_hz = 1000\n'
    )
    return path


@pytest.mark.parametrize("way", [pytest.param([], marks=posix, id="pty"), pytest.param(["--tcp", "0"], id="tcp")])
def test_a_recording_is_played_from_its_first_sample_to_its_last_and_then_the_board_ends(
    start: Starter, tmp_path: Path, way: list[str]
) -> None:
    process = start("play", str(_recording(tmp_path)), *way)
    url = url_of(process)
    time.sleep(0.5)  # it waits for us
    got = heard(url, lambda got: any(isinstance(m, Samples) and m.first_sample + m.count == 1000 for m in got))
    assert next(m for m in got if isinstance(m, Identity)).source == "player"
    assert sum(m.count for m in got if isinstance(m, Samples)) == 1000
    assert process.wait(5) == 0


def test_a_recording_may_be_played_over_and_over(start: Starter, tmp_path: Path) -> None:
    process = start("play", str(_recording(tmp_path)), "--loop", "--tcp", "0")
    heard(url_of(process), lambda got: any(isinstance(m, Samples) and m.first_sample > 1500 for m in got))
    assert process.poll() is None


def test_bytes_go_to_a_file_or_to_standard_output_and_are_the_same_each_time(tmp_path: Path, start: Starter) -> None:
    path = tmp_path / "a.wire"
    assert main(["bytes", "cabin_ventilator", "--seconds", "1.2", "--seed", "3", "--out", str(path)]) == 0
    process = start("bytes", "cabin_ventilator", "--seconds", "1.2", "--seed", "3", "--out", "-")
    out, _ = process.communicate(timeout=START_S)
    assert out == path.read_bytes()
    assert sum(m.count for m in messages(out) if isinstance(m, Samples)) == 24_000


def test_a_reader_of_bytes_that_has_enough_ends_it_without_a_traceback(start: Starter) -> None:
    process = start("bytes", "cabin_ventilator", "--seconds", "60", "--out", "-")
    assert process.stdout is not None
    process.stdout.read(1000)
    process.stdout.close()
    assert process.wait(START_S) == 0
    assert process.stderr is not None
    assert process.stderr.read() == b""


@pytest.mark.parametrize(
    ("arguments", "told"),
    [
        (["motor", "cabin_ventilater"], "simulator: there is no motor 'cabin_ventilater' on the bench; the nearest is"),
        (["motor", "cabin_ventilator", "--story", "stalled"], "no story 'stalled'; the nearest is 'stall and release'"),
        (["motor", "tender_thruster", "--story", "xyz"], "no story 'xyz'; there are 'start and speed steps', "),
        (["play", "nowhere/x.npz"], "simulator: there is no file nowhere/x.npz"),
        (["bytes", "tender_thruster", "--out", "nowhere/x.wire"], "nowhere/x.wire"),
    ],
)
def test_a_wrong_name_is_answered_in_a_sentence(
    arguments: list[str], told: str, capsys: pytest.CaptureFixture[str]
) -> None:
    assert main(arguments) == 2
    printed = capsys.readouterr()
    assert told in printed.err
    assert printed.err.count("\n") == 1
    assert printed.out == ""


def test_a_port_that_is_in_use_is_said_to_be(capsys: pytest.CaptureFixture[str]) -> None:
    from simulator.lines import TcpLine

    taken = TcpLine(0)
    number = taken.url.rsplit(":", 1)[1]
    assert main(["motor", "cabin_ventilator", "--tcp", number]) == 2
    told = f"TCP port {number} cannot be opened: in use by another program; --tcp 0 takes any free one"
    assert told in capsys.readouterr().err
    taken.close()


def test_help_fits_a_screen_and_has_examples(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["--help"])
    lines = capsys.readouterr().out.splitlines()
    assert len(lines) <= 28
    assert max(map(len, lines)) <= 100
    assert sum(line.startswith("  python -m simulator ") for line in lines) == 4


def test_the_list_names_every_motor_and_story(capsys: pytest.CaptureFixture[str]) -> None:
    from simulator.bench import bench

    assert main(["list"]) == 0
    out = capsys.readouterr().out
    for motor in bench():
        assert motor.key in out
        assert all(repr(story.name) in out for story in motor.stories)


def test_what_is_late_at_the_end_is_written_too_and_the_truth_tells_of_the_damage(tmp_path: Path) -> None:
    sizes = []
    for name, more in (("whole", []), ("late", ["--damage", "late=0.05", "--truth", str(tmp_path / "truth")])):
        out = tmp_path / name
        assert main(["bytes", "cabin_ventilator", "--seconds", "2", "--out", str(out), *more]) == 0
        sizes.append(len(out.read_bytes()))
    assert sizes[0] == sizes[1]
    rows = [json.loads(line) for line in (tmp_path / "truth").read_text().splitlines()]
    damage = [row for row in rows if row["kind"] == "damage"]
    assert len(damage) > 5
    assert {(row["damage"], row["spoiled"]) for row in damage} == {("late", False)}


def test_the_damage_of_a_story_strikes_while_it_plays(tmp_path: Path) -> None:
    story = "- {name: %s, says: x, lasts_s: 1, damage: %s, steps: [{at_s: 0.2, supply_on: on}]}\n"
    file, truth = tmp_path / "mine.yaml", tmp_path / "truth"
    file.write_text("stories:\n" + story % ("one", "{}") + story % ("two", "{flipped: 0.5}"))
    arguments = ["bytes", "bilge_pump", "--stories", str(file), "--seconds", "4", "--out", str(tmp_path / "out")]
    assert main([*arguments, "--truth", str(truth)]) == 0
    rows = [json.loads(line) for line in truth.read_text().splitlines()]
    seconds = {int(row["board_s"]) for row in rows if row["kind"] == "damage"}
    assert 1 in seconds or 2 in seconds
    assert len([row for row in rows if row["kind"] == "damage"]) > 100


def test_a_seed_below_zero_is_refused(capsys: pytest.CaptureFixture[str]) -> None:
    with pytest.raises(SystemExit):
        main(["bytes", "bilge_pump", "--seed", "-1", "--out", "-"])
    assert "write a whole number from 0 on" in capsys.readouterr().err


@pytest.mark.parametrize(
    ("arguments", "said"),
    [
        (["--serial", "", "--out", "-"], "write 1 to 60 letters and digits"),
        (["--damage", "flipped=nan", "--out", "-"], "rates are chances"),
        (["--damage", "flipped=0.1,flipped=0.2", "--out", "-"], "flipped stands there twice"),
        (["--out", "same", "--truth", "same"], "--out and --truth are both same"),
        (["--out", "/nonexistent/x"], "simulator: /nonexistent/x: No such file or directory"),
    ],
)
def test_what_cannot_be_is_refused_in_a_sentence(
    arguments: list[str], said: str, capsys: pytest.CaptureFixture[str]
) -> None:
    with contextlib.suppress(SystemExit):
        assert main(["bytes", "bilge_pump", *arguments]) == 2
    assert said in capsys.readouterr().err
