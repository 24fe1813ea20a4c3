"""What scripts get: lines of a living rig, of a pipe and of its recording are the same, and the web answers them."""

import json
import subprocess
import sys
import urllib.error
import urllib.request
from pathlib import Path
from typing import Any

import pytest
from websockets.sync.client import connect
from websockets.typing import Origin

from tests.journeys.bench import ROOT, Service, board, cable, service, wait_for

Lines = list[dict[str, Any]]


def lines_of(text: str) -> Lines:
    return [json.loads(line) for line in text.splitlines()]


def command(*arguments: str, given: bytes | None = None) -> str:
    done = subprocess.run(
        [sys.executable, "-m", "server", *arguments],
        cwd=ROOT,
        input=given,
        capture_output=True,
        timeout=60,
        check=False,
    )
    assert done.returncode == 0, done.stderr.decode()
    return done.stdout.decode()


def readings_at(lines: Lines) -> dict[float, dict[str, Any]]:
    """Readings of whole windows by board time; the clock against UTC is not theirs."""
    return {line["board_s"]: line for line in lines if line["kind"] == "readings" and "voltage_rms_v" in line}


@pytest.mark.long
def test_a_recorded_run_gives_the_very_readings_that_were_followed_live(tmp_path: Path) -> None:
    """A cable pulled in the middle is in both, at the same place, and every figure is the same bit for bit."""
    followed = tmp_path / "followed.jsonl"
    with (
        board(tmp_path, "motor", "cabin_ventilator", "--seed", "5") as (url, _),
        cable(url) as line,
        service(tmp_path / "data", "--rig", f"bench={line.url}") as running,
        followed.open("wb") as kept,
    ):
        follow = [
            sys.executable,
            "-m",
            "server",
            "follow",
            "--rig",
            "bench",
            "--url",
            running.url,
            "--data",
            str(running.data),
        ]
        with subprocess.Popen(follow, cwd=ROOT, stdout=kept) as process:

            def states() -> list[str]:
                return [entry.get("run_state", "") for entry in lines_of(followed.read_text().rpartition("\n")[0])]

            wait_for(lambda: "running" in states(), "the ventilator runs")
            line.pull()
            wait_for(lambda: running.get("/api/rigs/bench")["recording"]["state"] == "gap", "the gap")
            line.plug()
            seen = len(states())

            def after_the_gap() -> int:
                return len(readings_at(lines_of(followed.read_text().rpartition("\n")[0])[seen:]))

            wait_for(lambda: after_the_gap() > 10, "readings after the gap")
            process.terminate()
        run = running.get("/api/runs")[0]
    folder = tmp_path / "data" / "runs" / run["name"]
    live = readings_at(lines_of(followed.read_text().rpartition("\n")[0]))
    again = readings_at(lines_of(command("read", str(folder))))
    assert len(live) > 10
    common = live.keys() & again.keys()
    assert len(common) == len(live)
    for board_s in common:
        assert measured(live[board_s]) == measured(again[board_s])


def measured(line: dict[str, Any]) -> dict[str, Any]:
    """All of a line but how board time is placed in UTC: the longer the clock was heard, the better it is known."""
    return {key: value for key, value in line.items() if not key.startswith("utc_")}


@pytest.mark.long
def test_wire_bytes_in_a_pipe_and_in_a_file_give_the_same_lines(tmp_path: Path) -> None:
    file = tmp_path / "thruster.wire"
    made = [sys.executable, "-m", "simulator", "bytes", "tender_thruster", "--seconds", "6", "--out", str(file)]
    subprocess.run(made, cwd=ROOT, check=True, capture_output=True, timeout=60)
    from_file = command("read", str(file))
    assert from_file == command("read", "-", given=file.read_bytes())
    kinds = {line["kind"] for line in lines_of(from_file)}
    assert {"described", "readings", "event"} <= kinds
    assert "NaN" not in from_file
    states = {line["hall_state"] for line in lines_of(from_file) if line.get("hall_state") is not None}
    assert states <= {1, 2, 3, 4, 5, 6}


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Any:
    with service(tmp_path_factory.mktemp("scripts") / "data", "--demo") as running:
        wait_for(lambda: all(rig["connection"] == "live" for rig in running.get("/api/rigs")), "both boards")
        yield running


def test_everything_on_the_page_is_also_had_over_http(demo: Service) -> None:
    assert {rig["name"] for rig in demo.get("/api/rigs")} == {"heron-1", "heron-2"}
    catalogue = {quantity["key"] for quantity in demo.get("/api/quantities")}
    readings = wait_for(lambda: demo.get("/api/rigs/heron-1/readings")["readings"], "readings")
    assert {key.partition(".")[0] for key in readings} <= catalogue
    for reading in readings.values():
        assert (reading["value"] is None) == (reading["confidence"] == "absent")
    described = demo.get("/api/openapi.json")["paths"]
    assert {"/api/rigs", "/api/rigs/{name}/readings", "/api/runs", "/api/lines"} <= described.keys()


def test_the_token_of_the_file_lets_a_script_end_a_run_and_nothing_else_does(demo: Service) -> None:
    token_file = command("token", "--data", str(demo.data)).strip()
    body, path = json.dumps({"action": "end"}).encode(), demo.url + "/api/rigs/heron-2/run"
    headers = {"Content-Type": "application/json", "Slipring-Request": "1"}

    def answer(**more: str) -> int:
        request = urllib.request.Request(path, body, {**headers, **more}, method="POST")
        try:
            with urllib.request.urlopen(request, timeout=10) as given:
                return int(given.status)
        except urllib.error.HTTPError as error:
            return error.code

    assert answer() in {401, 403}
    assert answer(Authorization="Bearer wrong") in {401, 403}
    assert answer(Authorization=f"Bearer {Path(token_file).read_text()}", Host="evil.example") in {400, 403, 421}
    assert answer(Authorization=f"Bearer {Path(token_file).read_text()}") == 200


def test_a_websocket_client_gets_binary_pictures_of_a_living_rig(demo: Service) -> None:
    with connect(
        demo.url.replace("http", "ws") + "/live?rig=heron-1", origin=Origin(demo.url), additional_headers=demo.bearer
    ) as socket:
        hello = socket.recv(timeout=10)
        numbers = []
        for _ in range(20):
            message = socket.recv(timeout=10)
            assert isinstance(message, bytes)
            length = int.from_bytes(message[:4], "little")
            header = json.loads(message[4 : 4 + length])
            numbers.append(header["number"])
            socket.send(json.dumps({"drawn": header["number"]}))
        assert isinstance(hello, bytes)
        assert numbers == sorted(set(numbers))
        assert header["connection"]["state"] == "live"
        assert header["demo"] is True
