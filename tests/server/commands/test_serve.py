"""The service as a process: what it prints, where it listens, how it ends, and that nothing stays behind."""

import json
import os
import signal
import socket
import subprocess
import sys
import time
from pathlib import Path

import pytest

from tests.server.commands.services import ROOT, Service, all_ended, stop_process
from tests.server.ingest.boards import PtyBoard

pytestmark = pytest.mark.alone

ORDERLY_S = 5.0


def listening(pid: int) -> set[str]:
    """Addresses on which a process accepts connections, from the kernel's tables."""
    inodes = {os.readlink(link) for link in Path(f"/proc/{pid}/fd").iterdir()}
    found = set()
    for table in ("tcp", "tcp6"):
        for line in Path(f"/proc/{pid}/net/{table}").read_text().splitlines()[1:]:
            words = line.split()
            if words[3] == "0A" and f"socket:[{words[9]}]" in inodes:  # 0A: listening
                found.add(words[1].rpartition(":")[0])
    return found


def test_without_a_board_it_says_where_it_is_and_waits(tmp_path: Path) -> None:
    with Service(tmp_path / "data") as service:
        assert str(tmp_path / "data") in service.said
        assert service.get("/api/rigs") == []
        # 127.0.0.1 and ::1 as the kernel prints them: four-byte groups in the order of this machine
        assert listening(service.process.pid) <= {"0100007F", "00000000000000000000000001000000"}
        assert "0100007F" in listening(service.process.pid)
        code, took_s = service.end(signal.SIGHUP)  # its terminal was closed
    assert code == 0
    assert took_s < ORDERLY_S


def test_the_demo_runs_two_boards_and_leaves_nothing_behind_after_ctrl_c(tmp_path: Path) -> None:
    with Service(tmp_path / "data", "--demo") as service:
        service.until(lambda: service.connections() == {"heron-1": "live", "heron-2": "live"}, 30)
        boards = service.children()
        assert len(boards) == 2
        code, took_s = service.end(signal.SIGINT)
        assert code == 130
        assert took_s < ORDERLY_S
        assert all_ended(boards, 0.1)
        assert "Traceback" not in service.said


def test_boards_end_by_themselves_when_the_service_is_killed(tmp_path: Path) -> None:
    with Service(tmp_path / "data", "--demo") as service:
        service.until(lambda: len(service.children()) == 2)
        boards = service.children()
        service.process.kill()
        assert all_ended(boards, 3.0)


def test_viewers_that_never_read_and_programs_that_follow_do_not_hold_up_the_orderly_stop(tmp_path: Path) -> None:
    with Service(tmp_path / "data", "--demo") as service:
        service.until(lambda: service.connections() == {"heron-1": "live", "heron-2": "live"}, 30)
        url = f"http://127.0.0.1:{service.port}"
        command = [sys.executable, "-m", "server", "follow", "--url", url, "--rig", "heron-1"]
        command += ["--data", str(service.data)]
        follower = subprocess.Popen(command, cwd=ROOT, stdout=subprocess.PIPE, stderr=subprocess.PIPE, text=True)
        assert follower.stdout is not None
        states = {json.loads(follower.stdout.readline()).get("run_state") for _ in range(20)}
        assert states & {"resting", "starting", "running", "unknown"}
        with socket.create_connection(("127.0.0.1", service.port)) as viewer:
            host = f"127.0.0.1:{service.port}"
            viewer.sendall(
                f"GET /live HTTP/1.1\r\nHost: {host}\r\nOrigin: http://{host}\r\nUpgrade: websocket\r\n"
                "Connection: Upgrade\r\nSec-WebSocket-Version: 13\r\n"
                "Sec-WebSocket-Key: dGhlIHNhbXBsZSBub25jZQ==\r\n"  # the sample key of RFC 6455, 1.3
                f"Authorization: {service.bearer['Authorization']}\r\n\r\n".encode()
            )
            assert viewer.recv(12) == b"HTTP/1.1 101"
            time.sleep(0.5)
            boards = service.children()
            code, took_s = service.end()
        assert code == 0
        assert all_ended(boards, 0.1)
        assert took_s < ORDERLY_S
        _, said = follower.communicate(timeout=10)
        assert follower.returncode == 1
        assert said == "slipring: the service has ended the stream; start it again with slipring serve.\n"


def test_a_board_that_hangs_does_not_hold_up_the_orderly_stop(tmp_path: Path) -> None:
    with Service(tmp_path / "data", "--demo") as service:
        service.until(lambda: service.connections() == {"heron-1": "live", "heron-2": "live"}, 30)
        boards = service.children()
        stop_process(boards[0])
        code, took_s = service.end()
        assert code == 0
        assert took_s < ORDERLY_S
        assert all_ended(boards, 0.1)


def test_the_second_ctrl_c_ends_it_at_once(tmp_path: Path) -> None:
    with Service(tmp_path / "data", "--demo") as service:
        service.until(lambda: service.connections() == {"heron-1": "live", "heron-2": "live"}, 30)
        boards = service.children()
        stop_process(boards[0])  # so that the orderly stop takes its time
        service.process.send_signal(signal.SIGINT)
        time.sleep(0.3)
        assert service.process.poll() is None
        code, took_s = service.end(signal.SIGINT)
        assert (code, took_s < 0.5) == (130, True)
        os.kill(boards[0], signal.SIGCONT)
        assert all_ended(boards, 3.0)


@pytest.mark.parametrize("stage", ["in-use", "secret/token", "runs/catalogue.sqlite"])
@pytest.mark.parametrize(("number", "code"), [(signal.SIGTERM, 0), (signal.SIGINT, 130)])
def test_a_signal_while_it_starts_ends_it_in_order(number: int, code: int, stage: str, tmp_path: Path) -> None:
    service = Service(tmp_path / "data", "--demo")
    try:
        service.until((tmp_path / "data" / stage).exists)
        boards = service.children()
        ended = service.end(number)
        assert ended[0] == code, service.said
        assert ended[1] < ORDERLY_S
        assert "Traceback" not in service.said
        assert all_ended(boards, 0.5)
    finally:
        service.__exit__(None, None, None)


def test_a_busy_web_port_is_one_sentence_with_the_way_out(tmp_path: Path) -> None:
    with socket.create_server(("127.0.0.1", 0)) as taken:
        port = taken.getsockname()[1]
        command = [sys.executable, "-m", "server", "serve", "--port", str(port), "--data", str(tmp_path)]
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=20, check=False)
    assert done.returncode == 1
    assert done.stdout == ""
    other = port + 1 if port < 65535 else 8420
    assert (
        done.stderr
        == f"slipring: port {port} is in use by another program; choose another, for example --port {other}.\n"
    )


def test_the_second_service_on_a_folder_says_who_holds_it(tmp_path: Path) -> None:
    with Service(tmp_path / "data") as first:
        command = [sys.executable, "-m", "server", "serve", "--port", "0", "--data", str(tmp_path / "data")]
        done = subprocess.run(command, cwd=ROOT, capture_output=True, text=True, timeout=20, check=False)
        assert done.returncode == 1
        assert f"is in use by process {first.process.pid} at http://127.0.0.1:{first.port}/ since " in done.stderr
        assert done.stderr.count("\n") == 1


def test_a_broken_settings_file_is_shown_and_keeps_nothing_from_starting(tmp_path: Path) -> None:
    board = PtyBoard()
    rigs = tmp_path / "data" / "rigs"
    rigs.mkdir(parents=True)
    (rigs / "good.toml").write_text(f'[rig]\nport = "{board.url}"\n')
    (rigs / "broken.toml").write_text('[rig]\nport = "/dev/null"\nboud = 3\n')
    (rigs / "motor.toml").write_text('[motor]\ntype = "brushles"\n')
    (rigs / "plate.toml").write_text("[motor.plate]\ncurrent_a = 3\n\nlocked_rotor_current_a = 1\n")
    with Service(tmp_path / "data") as service:
        service.until(lambda: service.connections()["good"] == "live")
        assert service.get("/api/rigs/broken")["refusal"] == (
            f'{rigs}/broken.toml, line 3: "boud" is not a key of [rig]; write baud.'
        )
        assert service.get("/api/rigs/motor")["refusal"] == (
            f'{rigs}/motor.toml, line 2: there is no motor type "brushles"; write type = "brushless".'
        )
        assert service.get("/api/rigs/plate")["refusal"].startswith(f"{rigs}/plate.toml, line 4: 1 A is below")
        assert service.connections()["broken"] == "settings_refused"
        assert "broken.toml, line 3" in service.said
    board.pull()


def test_a_rig_named_on_the_command_line_keeps_its_settings(tmp_path: Path) -> None:
    board, link = PtyBoard(), tmp_path / "board"
    link.symlink_to(board.url)
    with Service(tmp_path / "data", "--rig", f"bench={link}") as service:
        service.until(lambda: service.connections() == {"bench": "live"})
    file = tmp_path / "data" / "rigs" / "bench.toml"
    assert f'port = "{link}"' in file.read_text()
    written = file.read_text()
    with Service(tmp_path / "data", "--rig", "bench=/dev/no-such-port") as service:
        service.until(lambda: service.connections() == {"bench": "no_board"})
    assert file.read_text() == written  # moved for that time only
    board.pull()
