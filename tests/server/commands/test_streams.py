"""Standard streams that are closed, full or broken: each command says so, or goes on without them."""

import os
import signal
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.server.commands.services import ROOT
from tests.server.tiny_board import TinyBoard

pytestmark = pytest.mark.skipif(os.name != "posix", reason="shells of Windows close no streams")


def shell(line: str) -> tuple[int, str]:
    """Exit code, and what was said on standard error."""
    command = ["/bin/bash", "-c", line.replace("slipring", f"{sys.executable} -m server")]
    done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=30, check=False)
    return done.returncode, done.stderr


@pytest.fixture(scope="module")
def wire(tmp_path_factory: pytest.TempPathFactory) -> Path:
    path = tmp_path_factory.mktemp("wire") / "fan.wire"
    path.write_bytes(TinyBoard().wire())
    return path


FULL = "slipring: standard output cannot be written (No space left on device); what came before may be incomplete.\n"
CLOSED = "slipring: standard output is closed, so nothing can be printed.\n"


@pytest.mark.parametrize(
    ("line", "said"),
    [
        ("slipring read {wire} >/dev/full", FULL),
        ("slipring token --data {data} >/dev/full", FULL),
        ("slipring read {wire} >&-", CLOSED),
        ("slipring follow >&-", CLOSED),
        ("slipring ports --look nothing >&-", CLOSED),
        ("slipring read - <&-", "slipring: standard input cannot be read: it is closed.\n"),
        ("slipring read {wire} >&- 2>&-", ""),
    ],
)
def test_a_stream_that_cannot_be_used_is_named_in_one_sentence(
    line: str, said: str, wire: Path, tmp_path: Path
) -> None:
    assert shell(line.format(wire=wire, data=tmp_path)) == (1, said)


def test_a_reader_that_has_had_enough_is_no_failure(wire: Path, tmp_path: Path) -> None:
    for command in (f"read {wire}", f"token --data {tmp_path}"):
        assert shell(f"(slipring {command}; echo $? >&2) | true") == (0, "0\n")


@pytest.mark.parametrize("broken", ["<&- >&- 2>&-", "2> >(exit)"], ids=["closed", "broken"])
def test_the_service_runs_without_a_terminal_and_ends_in_order(broken: str, tmp_path: Path) -> None:
    """And no file or socket of it gets the number of a stream, where anything may be written."""
    command = f"exec {sys.executable} -m server serve --port 0 --data {tmp_path} {broken}"
    process = subprocess.Popen(["/bin/bash", "-c", f"sleep 0.2; {command}"], cwd=ROOT)
    try:
        start_s = time.monotonic()
        while "http://" not in _text(tmp_path / "in-use") or not (tmp_path / "runs" / "catalogue.sqlite").exists():
            assert process.poll() is None
            assert time.monotonic() - start_s < 20
            time.sleep(0.02)
        time.sleep(0.5)
        kept = {os.readlink(f"/proc/{process.pid}/fd/{number}") for number in range(3)}
        assert not any(str(tmp_path) in each or "socket:" in each for each in kept)
        process.send_signal(signal.SIGTERM)
        assert process.wait(10) == 0
    finally:
        if process.poll() is None:
            process.kill()
            process.wait()


def _text(path: Path) -> str:
    return path.read_text() if path.exists() else ""
