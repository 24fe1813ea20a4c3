"""The service as a monitor sees it: numbers, read by the parser of the reference client, and a word on health."""

import time
from pathlib import Path
from types import SimpleNamespace

import pytest
from prometheus_client.openmetrics.parser import text_string_to_metric_families

from server import VERSION
from server.live.records import Connection, ConnectionState, Recording, RecordingState
from server.notify.delivery import Delivery
from tests.server.notify.hooks import hooks
from tests.server.notify.notices import notice, until
from tests.server.web.bench import Service
from tests.server.web.test_alarms_api import see

SETTINGS = '[webhook.a]\nurl = "http://127.0.0.1:{port}/S3cret"\nlocal = true\n'


def numbers(service: Service) -> dict[tuple[str, ...], float]:
    """Every sample by its name and the values of its labels."""
    with service.client as client:
        answer = client.get("/metrics")
    assert answer.headers["content-type"] == "application/openmetrics-text; version=1.0.0; charset=utf-8"
    families = list(text_string_to_metric_families(answer.text))  # type: ignore[no-untyped-call]
    assert all(family.documentation for family in families)
    return {(its.name, *its.labels.values()): its.value for family in families for its in family.samples}


def test_a_monitor_reads_rigs_alarms_and_receivers_as_numbers(service: Service, tmp_path: Path) -> None:
    service.rigs.rigs["heron-1"].view.connection = Connection(ConnectionState.LIVE)
    service.rigs.rigs["heron-1"].view.recorded = lambda: Recording(RecordingState.RECORDING)
    see(service, "stalled", 1.0)
    see(service, "stalled", 1.0, "heron-2")
    see(service, "running", 3.0, "heron-2")
    with service.client as client:
        standing = client.get("/api/alarms").json()["standing"]
        assert [each["rig"] for each in standing] == ["heron-1", "heron-2"], "one waits to be acknowledged"
    with hooks("500") as hook:
        (tmp_path / "notify.toml").write_text(SETTINGS.format(port=hook.port))
        delivery = service.rigs.delivery = Delivery(tmp_path, service.rigs.utc_s)
        delivery.start()
        delivery.deliver(notice())
        until(lambda: any(its.error and its.queue.count == 2 for its in delivery.standings()))
        found = numbers(service)
        with service.client as client:
            health = client.get("/api/health")
            assert "S3cret" not in client.get("/metrics").text + health.text
        delivery.stop()
    assert found["slipring_build_info", VERSION] == 1.0
    assert found["slipring_rig_live", "heron-1"] == found["slipring_rig_recording", "heron-1"] == 1.0
    assert found["slipring_rig_live", "heron-2"] == found["slipring_rig_recording", "heron-2"] == 0.0
    assert found["slipring_rig_alarms", "alarm", "heron-1"] == 1.0
    assert found["slipring_rig_alarms", "alarm", "heron-2"] == 0.0
    assert found["slipring_rig_frames_lost_total", "heron-1"] == 0.0
    assert found["slipring_disk_free_bytes",] > 0
    assert found["slipring_receiver_waiting", "a"] == 2.0
    assert 0.0 <= found["slipring_receiver_oldest_age_seconds", "a"] < 60.0
    assert found["slipring_receiver_failing", "a"] == 1.0
    assert health.status_code == 503
    told = health.json()
    assert (told["well"], told["version"]) == (False, VERSION)
    assert any(trouble.startswith("a: 127.0.0.1 did not take it (HTTP 500") for trouble in told["troubles"])
    assert "heron-2: no_board" in told["troubles"]
    assert not [trouble for trouble in told["troubles"] if "heron-1" in trouble]  # a stalled motor is no ill service


def test_a_service_without_trouble_is_well(service: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    for rig in service.rigs:
        rig.view.connection = Connection(ConnectionState.LIVE)
        rig.view.recorded = lambda: Recording(RecordingState.RECORDING)
    with service.client as client:
        answer = client.get("/api/health")
    assert (answer.status_code, answer.json()["well"], answer.json()["troubles"]) == (200, True, [])
    with service.client as client:
        rig = service.rigs.rigs["heron-2"]
        monkeypatch.setattr(rig.view, "connected", lambda utc_s: Connection(ConnectionState.STALE))
        assert client.get("/api/health").status_code == 200, "some seconds without samples wake nobody"
        monkeypatch.setattr(rig.view, "connected", lambda utc_s: Connection(ConnectionState.TOO_OLD))
        assert client.get("/api/health").json()["troubles"] == ["heron-2: its port is open and no samples come"]
        monkeypatch.setattr(rig.view, "connected", lambda utc_s: Connection(ConnectionState.LIVE))
        service.rigs.rigs["heron-2"].view.recorded = lambda: Recording(RecordingState.FAILED, reason="the disk is full")
        assert client.get("/api/health").json()["troubles"] == ["Samples of heron-2 are not recorded: the disk is full"]


def test_what_will_be_missing_tomorrow_is_told_while_all_still_works(
    service: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    for rig in service.rigs:
        rig.view.connection = Connection(ConnectionState.LIVE)
        rig.view.recorded = lambda: Recording(RecordingState.RECORDING, room_s=3000.0)
    service.rigs.recorded = SimpleNamespace(troubles={"Runs are not packed": "Runs are not packed: Input/output error"})
    clock = time.time
    monkeypatch.setattr("server.ingest.steady_clock.time.time", lambda: clock() + 7200.0)
    with service.client as client:
        told = client.get("/api/health").json()["troubles"]
    assert told[:3] == [
        "heron-1: the disk has room for 50 min of recording; make room",
        "heron-2: the disk has room for 50 min of recording; make room",
        "Runs are not packed: Input/output error",
    ]
    assert told[3].startswith("the PC's clock is 7200 s ahead of the service's")
    assert len(told) == 4


@pytest.mark.parametrize("path", ["/metrics", "/api/health"])
def test_a_stranger_learns_nothing_of_it(service: Service, path: str) -> None:
    with service.stranger as client:
        assert client.get(path).status_code == 401
