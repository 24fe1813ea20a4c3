"""The unit for systemd: what it may do, and what the service says to whoever starts it so."""

import contextlib
import os
import re
import shutil
import signal
import socket
import subprocess
import sys
import time
from argparse import Namespace
from collections.abc import Iterator
from pathlib import Path

import pytest

from server.__main__ import main
from server.commands import unit
from server.commands.bench_network import open_bench
from server.commands.supervised import tell, watched_s
from server.commands.unit import hidden, unit_text
from tests.server.commands.services import Service

PROGRAM = Path("/opt/slipring/bin/slipring")
EXPOSURE_MAX = 1.5


@pytest.fixture
def listener(tmp_path: Path, monkeypatch: pytest.MonkeyPatch) -> Iterator[socket.socket]:
    """Stands for systemd: where the service tells how it is."""
    with socket.socket(socket.AF_UNIX, socket.SOCK_DGRAM) as heard:
        heard.bind(str(tmp_path / "notify"))
        heard.settimeout(20.0)
        monkeypatch.setenv("NOTIFY_SOCKET", str(tmp_path / "notify"))
        yield heard


def test_the_unit_exposes_no_more_than_it_must(tmp_path: Path) -> None:
    analyze = shutil.which("systemd-analyze")
    if analyze is None:
        pytest.skip("systemd-analyze is not there: the unit's exposure is not measured")
    file = tmp_path / "slipring.service"
    file.write_text(unit_text(PROGRAM, []))
    done = subprocess.run(
        [analyze, "security", "--offline=true", "--no-pager", str(file)], capture_output=True, text=True, check=False
    )
    found = re.search(r"Overall exposure level for slipring\.service: ([0-9.]+)", done.stdout)
    assert found, done.stderr
    assert float(found[1]) <= EXPOSURE_MAX


def test_the_unit_starts_with_the_machine_and_again_after_a_fault(tmp_path: Path) -> None:
    lines = unit_text(PROGRAM, ["--rig", "bench=/dev/ttyACM0", "--look", "/dev/tty%*$"]).splitlines()
    command = "ExecStart=/opt/slipring/bin/slipring serve --data /var/lib/slipring --rig bench=/dev/ttyACM0"
    assert f'{command} --look "/dev/tty%%*$$"' in lines
    assert {"Type=notify", "Restart=on-failure", "WatchdogSec=30", "WantedBy=multi-user.target"} <= set(lines)
    # systemd.resource-control(5), DeviceAllow=: kinds that the kernel does not know yet are not allowed
    modules = " ".join(f"modprobe@{module}.service" for module in ("cdc_acm", "usbserial"))
    assert {f"Wants={modules}", f"After={modules}", "DeviceAllow=char-ttyACM rw", "DeviceAllow=char-ttyUSB rw"} <= set(
        lines
    )
    if verify := shutil.which("systemd-analyze"):
        file = tmp_path / "slipring.service"
        file.write_text(unit_text(Path("/bin/true"), []))
        done = subprocess.run([verify, "verify", str(file)], capture_output=True, text=True, check=False)
        assert (done.returncode, done.stderr) == (0, "")


def test_options_that_serve_does_not_know_are_refused_before_they_are_written(
    capsys: pytest.CaptureFixture[str], tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setattr(unit, "FILE", tmp_path / "slipring.service")
    with pytest.raises(SystemExit) as left:
        main(["unit", "--install", "--", "--rigg", "bench=/dev/ttyACM0"])
    assert left.value.code == 2
    assert "there is no option --rigg; did you mean --rig?" in capsys.readouterr().err
    assert not (tmp_path / "slipring.service").exists()
    assert main(["unit", "--install", "--", "--rig", "bench=/dev/ttyACM0"]) == 0
    assert "systemctl enable --now slipring" in capsys.readouterr().err
    assert "--rig bench=/dev/ttyACM0" in (tmp_path / "slipring.service").read_text()
    monkeypatch.setattr(unit, "FILE", tmp_path / "no-folder" / "slipring.service")
    assert main(["unit", "--install"]) == 1
    assert "cannot be written (No such file or directory); type sudo " in capsys.readouterr().err


@pytest.mark.parametrize(
    ("program", "is_hidden"),
    [("/home/a/.venv/bin/slipring", True), ("/root/x", True), ("/homes/x", False), (PROGRAM, False)],
)
def test_a_program_that_the_unit_could_not_see_is_known(program: str | Path, is_hidden: bool) -> None:
    assert hidden(Path(program)) is is_hidden


def test_the_service_says_that_it_is_ready_alive_and_stopping_and_nothing_while_it_hangs(
    listener: socket.socket, tmp_path: Path, monkeypatch: pytest.MonkeyPatch
) -> None:
    monkeypatch.setenv("WATCHDOG_USEC", "300000")
    with Service(tmp_path / "data") as service:
        first = [listener.recv(100) for _ in range(4)]
        assert set(first) == {b"READY=1", b"WATCHDOG=1"}
        service.process.send_signal(signal.SIGSTOP)
        time.sleep(0.1)
        all_of(listener)
        time.sleep(0.3)
        assert all_of(listener) == []
        service.process.send_signal(signal.SIGCONT)
        listener.settimeout(10.0)
        assert listener.recv(100) == b"WATCHDOG=1"
        assert service.end()[0] == 0
        assert all_of(listener)[-1] == b"STOPPING=1"


def all_of(listener: socket.socket) -> list[bytes]:
    """What has been said by now."""
    listener.setblocking(False)
    said = []
    with contextlib.suppress(BlockingIOError):
        while True:
            said.append(listener.recv(100))
    return said


def test_without_anybody_who_listens_nothing_happens(monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setenv("NOTIFY_SOCKET", "/no/such/socket")
    tell("READY=1")
    monkeypatch.setenv("WATCHDOG_USEC", "1000000")
    assert watched_s() == 1.0
    monkeypatch.setenv("WATCHDOG_PID", str(os.getpid() + 1))
    assert watched_s() is None
    monkeypatch.setenv("WATCHDOG_PID", "x")
    assert watched_s() is None


@pytest.mark.skipif(sys.platform != "linux", reason="only Linux lets an address be awaited")
@pytest.mark.parametrize("address", ["203.0.113.77", "2001:db8::77"])  # of blocks for documents (RFC 5737, RFC 3849)
def test_a_service_that_is_supervised_does_not_wait_for_the_bench_network_to_record(
    address: str, tmp_path: Path, monkeypatch: pytest.MonkeyPatch, capfd: pytest.CaptureFixture[str]
) -> None:
    monkeypatch.setenv("NOTIFY_SOCKET", "/run/systemd/notify")
    bench = open_bench(Namespace(bench_network=address, not_encrypted=True, certificate=None, key=None), tmp_path, 0)
    with bench.socket as awaiting:
        assert awaiting.getsockname()[0] == address
    assert capfd.readouterr().err == (
        f"slipring: this PC has no address {address} that it can listen at (Cannot assign requested address);"
        " other devices can come in once it has.\n"
    )
