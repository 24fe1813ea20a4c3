"""The demo bench over HTTP: what there is to play, started with its story, stopped."""

from typing import Any

import pytest

from tests.server.web.bench import BenchRig, Service
from tests.server.web.raw import TOKEN

AUTHORIZED = {"Authorization": f"Bearer {TOKEN}", "Slipring-Request": "1"}


@pytest.fixture
def bench(service: Service) -> Service:
    service.rigs.rigs = {"heron-1": BenchRig("heron-1")}
    service.rigs.played = {}
    return service


def asked(bench: Service) -> tuple[int, Any]:
    with bench.client as client:
        answer = client.get("/api/demo")
    return answer.status_code, answer.json()


def posted(bench: Service, path: str, body: object) -> tuple[int, Any]:
    with bench.client as client:
        answer = client.post(path, json=body, headers=AUTHORIZED)
    return answer.status_code, answer.json()


def test_a_demo_motor_is_started_with_its_story_and_stopped(bench: Service) -> None:
    _, (motor,) = asked(bench)
    assert (motor["motor"], motor["type"], motor["running"]) == ("cabin_ventilator", "permanent_split_capacitor", [])
    assert motor["stories"] == [{"name": "stall", "says": "a fan is held", "lasts_s": 20.0}]
    wanted = {"motor": "cabin_ventilator", "story": "stall", "pace": 0.5}
    assert posted(bench, "/api/demo/start", wanted) == (201, {"rig": "demo-1"})
    _, (motor,) = asked(bench)
    assert motor["running"] == [{"rig": "demo-1", "story": "stall", "pace": 0.5}]
    assert posted(bench, "/api/demo/stop", {"rig": "demo-1"}) == (200, {"rig": "demo-1"})
    assert set(bench.rigs.rigs) == {"heron-1"}


def test_story_and_pace_may_be_left_out(bench: Service) -> None:
    assert posted(bench, "/api/demo/start", {"motor": "cabin_ventilator"})[0] == 201
    played = bench.rigs.played["demo-1"]
    assert (played.story, played.pace) == ("", 1.0)


@pytest.mark.parametrize("pace", [0, -1, 21, "fast"])
def test_a_pace_that_cannot_be_played_is_refused(bench: Service, pace: object) -> None:
    status, said = posted(bench, "/api/demo/start", {"motor": "cabin_ventilator", "pace": pace})
    assert (status, said["detail"][:6]) == (422, "pace: ")


def test_a_demo_bench_that_cannot_be_asked_says_why(bench: Service, monkeypatch: pytest.MonkeyPatch) -> None:
    monkeypatch.setattr(bench.rigs.demo_list, "complaint", "the software board needs numba")
    status, said = asked(bench)
    assert (status, said["detail"]) == (503, "the software board needs numba")
