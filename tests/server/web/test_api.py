"""The HTTP API on a real web server: what it answers, refuses, and tells as lines."""

import http.client
import json
import threading
import time
from collections.abc import Iterator
from contextlib import closing, contextmanager
from pathlib import Path
from typing import Any

import pytest

from server.config import Plate
from server.ingest.found_ports import FoundPort, PortSearch
from server.live.records import Connection, ConnectionState, Recording, RecordingState, Shown
from server.pipeline import Output
from server.readings import Event, Instant, Reading
from tests.server.ingest.boards import PtyBoard
from tests.server.live.blocks import Sync, described
from tests.server.web.bench import BenchRig, Service, running
from tests.server.web.raw import TOKEN

AUTHORIZED = {"Authorization": f"Bearer {TOKEN}", "Slipring-Request": "1"}


@pytest.fixture
def bench(service: Service, monkeypatch: pytest.MonkeyPatch) -> Service:
    """The service with two fresh rigs, the first of which has something to tell."""
    ports = [
        FoundPort("/dev/ttyACM0", "/dev/serial/by-id/board", "CDC", "board", "Slipring board S-1"),
        FoundPort("/dev/ttyS0", "", "", "refused", "/dev/ttyS0 is busy"),
        FoundPort("/dev/ttyS1", "", "", "used", "in use by rig heron-1 of this service"),
    ]
    monkeypatch.setattr(PortSearch, "found", lambda search, used: ports)
    service.rigs.rigs = {name: BenchRig(name) for name in ("heron-1", "heron-2")}
    telling(service.rigs.rigs["heron-1"], service.rigs.utc_s())
    return service


def telling(rig: BenchRig, now_utc_s: float) -> None:
    view = rig.view
    view.motor = Shown("cabin ventilator", "permanent_split_capacitor", Plate(voltage_v=230.0, pole_pairs=2), "board")
    view.connection = Connection(ConnectionState.LIVE, port="/dev/ttyACM0", since_utc_s=now_utc_s)
    view.recorded = lambda: Recording(RecordingState.RECORDING, now_utc_s, run="20261125-1402-heron-1")
    readings = (Reading("current_rms_a", 0.552), Reading("current_harmonics_a", (0.5, 0.01)))
    view.take(Output(described=described()), Sync(now_utc_s))
    view.take(Output(instants=(Instant(0, 0, 0.0, 0.2, readings),)), Sync(now_utc_s))
    view.take(Output(events=(Event("started", 0.0, "Started", "at 0°", True),)), Sync(now_utc_s))


def got(service: Service, path: str) -> Any:
    with service.client as client:
        answer = client.get(path)
    assert answer.status_code == 200, answer.text
    return answer.json()


def changed(service: Service, method: str, path: str, body: object) -> tuple[int, Any]:
    with service.client as client:
        answer = client.request(method, path, json=body, headers=AUTHORIZED)
    return answer.status_code, answer.json()


def test_everything_of_a_rig_is_to_be_had(bench: Service) -> None:
    assert [rig["name"] for rig in got(bench, "/api/rigs")] == ["heron-1", "heron-2"]
    rig = got(bench, "/api/rigs/heron-1")
    assert rig["board"]["serial"] == "S-1"
    assert rig["connection"]["state"] == "live"
    assert rig["recording"]["run"] == "20261125-1402-heron-1"
    assert rig["motor"]["plate"]["pole_pairs"] == 2
    assert rig["settings"]["port"] == "/dev/ttyTEST"
    readings = got(bench, "/api/rigs/heron-1/readings")["readings"]
    assert readings["current_rms_a"]["value"] == 0.552
    assert readings["current_harmonics_a"]["value"] == [0.5, 0.01]
    events = got(bench, "/api/rigs/heron-1/events")
    assert [(event["text"], event["decisive"]) for event in events] == [("Started", True)]


def test_readings_age_in_the_api_as_on_the_page(bench: Service) -> None:
    view = bench.rigs.rigs["heron-1"].view
    view.take(
        Output(instants=(Instant(0, 0, -2.0, 0.2, (Reading("voltage_rms_v", 230.0),)),)), Sync(bench.rigs.utc_s())
    )
    view.take(Output(instants=(Instant(0, 0, -9.0, 0.2, (Reading("frequency_hz", 50.0),)),)), Sync(bench.rigs.utc_s()))
    readings = got(bench, "/api/rigs/heron-1/readings")["readings"]
    assert (readings["voltage_rms_v"]["aged"], readings["voltage_rms_v"]["value"]) == ("stale", 230.0)
    assert (readings["frequency_hz"]["aged"], readings["frequency_hz"]["value"]) == ("absent", None)


def test_ports_say_what_they_are_by_the_name_that_stays(bench: Service) -> None:
    status, said = changed(bench, "POST", "/api/ports/look", {})
    assert status == 200
    assert said == [
        {"port": "/dev/serial/by-id/board", "says": "Slipring board S-1", "usable": True, "board": True},
        {"port": "/dev/ttyS0", "says": "/dev/ttyS0 is busy", "usable": False, "board": False},
        {"port": "/dev/ttyS1", "says": "in use by rig heron-1 of this service", "usable": False, "board": False},
    ]


def test_a_rig_is_added_changed_and_its_run_ended(bench: Service) -> None:
    new = {"name": "pump", "port": "/dev/ttyUSB0", "motor": {"name": "bilge pump", "plate": {"voltage_v": 12}}}
    assert changed(bench, "POST", "/api/rigs", new) == (201, {"rig": "pump"})
    settings = bench.rigs.rigs["pump"].settings
    assert (settings.port, settings.baud) == ("/dev/ttyUSB0", 2_000_000)
    assert settings.motor is not None
    assert settings.motor.plate.voltage_v == 12
    assert changed(bench, "PUT", "/api/rigs/pump", {"baud": 921_600})[0] == 200
    settings = bench.rigs.rigs["pump"].settings
    assert (settings.port, settings.baud) == ("/dev/ttyUSB0", 921_600)
    assert settings.motor is not None
    assert settings.motor.name == "bilge pump"
    for run in ("20261125-1402-pump", None):
        ended = changed(bench, "POST", "/api/rigs/pump/run", {"action": "end"})
        assert ended == (200, {"rig": "pump", "run": run})
    assert bench.rigs.rigs["pump"].runs_ended == 2


def test_a_rig_is_removed_and_a_demo_rig_is_not(bench: Service) -> None:
    assert changed(bench, "DELETE", "/api/rigs/heron-2", {}) == (200, {"rig": "heron-2"})
    bench.rigs.rigs["heron-1"].demo = True
    status, said = changed(bench, "DELETE", "/api/rigs/heron-1", {})
    assert (status, said["detail"]) == (409, "heron-1 is a demo rig; stop its motor with /api/demo/stop.")
    assert set(bench.rigs.rigs) == {"heron-1"}


def test_a_port_is_asked_and_nothing_is_changed(bench: Service) -> None:
    board = PtyBoard()
    status, said = changed(bench, "POST", "/api/ports/ask", {"port": board.url})
    assert (status, said["board"], said["usable"]) == (200, True, True)
    assert said["says"] == "Slipring board test board T-1 firmware 1.0"
    board.pull()
    status, said = changed(bench, "POST", "/api/ports/ask", {"port": "/dev/ttyTEST"})
    assert (status, said["board"], said["says"]) == (200, False, "in use by rig heron-2 of this service")
    assert set(bench.rigs.rigs) == {"heron-1", "heron-2"}


def test_a_rig_opens_its_port_only_when_those_that_are_asked_are_closed(
    bench: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    ended_s: list[float] = []

    def slow(search: PortSearch, port: str, used: object) -> FoundPort:
        time.sleep(0.3)
        ended_s.append(time.monotonic())
        return FoundPort(port, "", "", "silent", "no answer")

    monkeypatch.setattr(PortSearch, "ask", slow)
    asking = threading.Thread(target=changed, args=(bench, "POST", "/api/ports/ask", {"port": "/dev/ttyACM0"}))
    asking.start()
    time.sleep(0.1)
    assert changed(bench, "POST", "/api/rigs", {"name": "pump", "port": "/dev/ttyACM0"})[0] == 201
    assert ended_s
    assert time.monotonic() >= ended_s[0]
    asking.join()


@pytest.mark.parametrize(
    ("method", "path", "body", "status", "sentence"),
    [
        ("POST", "/api/rigs", {"name": "heron-1"}, 409, 'There is a rig "heron-1" already'),
        ("POST", "/api/rigs", {}, 422, "name: this is missing; write it."),
        (
            "POST",
            "/api/rigs",
            {"name": "x", "prot": "/dev/ttyS0"},
            422,
            "prot: there is nothing of this name here; leave it out or mend its name.",
        ),
        ("POST", "/api/rigs", {"name": "x", "baud": 5}, 422, "baud = 5: too slow; write 2000000."),
        ("POST", "/api/rigs", {"name": "x" * 201}, 422, "name: "),
        ("POST", "/api/rigs", [], 422, ""),
        ("PUT", "/api/rigs/nobody", {}, 404, 'There is no rig "nobody"; there are: heron-1, heron-2.'),
        ("POST", "/api/rigs/heron-1/run", {"action": "begin"}, 422, "action: "),
        ("POST", "/api/rigs/nobody/run", {"action": "end"}, 404, "There is no rig"),
        ("POST", "/api/demo/start", {"motor": "toaster"}, 422, "there is no demo motor toaster"),
        ("POST", "/api/demo/start", {"motor": "cabin_ventilator", "pace": 0}, 422, "pace: "),
        ("POST", "/api/demo/stop", {"rig": "nobody"}, 404, "No demo motor runs on a rig"),
        ("DELETE", "/api/rigs/nobody", {}, 404, 'There is no rig "nobody"; there are: heron-1, heron-2.'),
        ("DELETE", "/api/rigs", {}, 405, "DELETE is not possible at /api/rigs."),
        ("POST", "/api/ports/ask", {}, 422, "port: this is missing; write it."),
        ("POST", "/api/ports/ask", {"port": ""}, 422, "port: "),
    ],
)
def test_a_wish_that_cannot_be_met_is_answered_by_a_sentence(
    bench: Service, method: str, path: str, body: object, status: int, sentence: str
) -> None:
    answered, said = changed(bench, method, path, body)
    assert (answered, said["detail"][: len(sentence)]) == (status, sentence)
    assert set(bench.rigs.rigs) == {"heron-1", "heron-2"}


@contextmanager
def followed(service: Service, query: str = "") -> Iterator[http.client.HTTPResponse]:
    with closing(http.client.HTTPConnection("127.0.0.1", service.port, timeout=5)) as connection:
        connection.request("GET", f"/api/lines{query}", headers=AUTHORIZED)
        yield connection.getresponse()


def test_lines_come_as_the_pipeline_says_them(bench: Service) -> None:
    view = bench.rigs.rigs["heron-1"].view
    with followed(bench) as answer:
        assert answer.status == 200
        assert answer.headers["content-type"].startswith("application/x-ndjson")
        for k in range(3):
            bench.server_loop.call_soon_threadsafe(
                view.take, Output(events=(Event("mark", float(k), f"Event {k}"),)), Sync(bench.rigs.utc_s())
            )
            assert json.loads(answer.readline())["text"] == f"Event {k}"
    deadline = time.monotonic() + 3
    while view.followers and time.monotonic() < deadline:
        time.sleep(0.02)
    assert not view.followers


def test_lines_of_another_rig_and_of_none(bench: Service) -> None:
    with followed(bench, "?rig=heron-2") as answer:
        assert json.loads(answer.readline())["text"] == "There is no board"
    with followed(bench, "?rig=nobody") as answer:
        assert answer.status == 404
        assert b"there are: heron-1, heron-2" in answer.read()


def test_lines_end_when_their_rig_does(bench: Service) -> None:
    with followed(bench, "?rig=heron-2") as answer:
        answer.readline()
        del bench.rigs.rigs["heron-2"]
        assert answer.read() == b""


def test_a_stop_of_the_service_does_not_wait_for_those_who_read_lines(page: Path) -> None:
    with running(page, "heron-1") as service, followed(service) as answer:
        answer.readline()
        begin = time.monotonic()
        service.server.should_exit = True
        while service.alive() and time.monotonic() - begin < 5:
            time.sleep(0.02)
        assert time.monotonic() - begin < 1.5
