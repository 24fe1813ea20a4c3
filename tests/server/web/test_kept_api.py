"""Kept pictures over HTTP: armed, held, drawn, measured, dropped, and what cannot be answered."""

from collections.abc import Iterator
from pathlib import Path

import pytest

from server.live.view import View
from server.pipeline import Output
from tests.server.live.blocks import Sync, block, described, sines
from tests.server.web.bench import Service, running
from tests.server.web.raw import TOKEN

AUTHORIZED = {"Authorization": f"Bearer {TOKEN}", "Slipring-Request": "1"}


@pytest.fixture(scope="module")
def bench(page: Path) -> Iterator[Service]:
    """Two rigs; one has three seconds of a supply."""
    with running(page, "pump", "empty") as started:
        yield started


@pytest.fixture
def pump(bench: Service) -> Service:
    view = View("pump")
    view.take(Output(described=described(), samples=(block(sines(3.0)),)), Sync(bench.rigs.utc_s() - 3.0))
    bench.rigs.rigs["pump"].view = view
    return bench


def test_a_picture_is_held_drawn_measured_and_dropped(pump: Service) -> None:
    with pump.client as client:
        held = client.post("/api/rigs/pump/hold", json={}, headers=AUTHORIZED)
        assert held.status_code == 200, held.text
        number = held.json()["number"]
        assert held.json()["span_s"] == pytest.approx(2.0)
        base = f"/api/rigs/pump/kept/{number}"
        trace = client.get(f"{base}/trace?from_s=1.0&to_s=1.06&columns=300").json()
        assert [len(line["low"]) for line in trace["lines"]] == [300, 300]
        one, _, other = trace["lines"][0]["zeros_s"][:3]
        asked = f"{base}/between?one_s={one}&one=0&one_at=zero&other_s={other}&other=0&other_at=zero"
        readings = client.get(asked).json()["readings"]
        assert readings["time_s"]["value"] == pytest.approx(0.02, abs=1e-7)
        assert readings["voltage_rms_v"]["value"] == pytest.approx(325.0 / 2**0.5, rel=1e-4)
        assert readings["angle_deg"]["confidence"] == "absent"
        assert client.get("/api/rigs/pump/kept").json()["kept"] == []  # a page's hold is no list
        assert client.request("DELETE", base, json={}, headers=AUTHORIZED).status_code == 200
        gone = client.get(f"{base}/trace?from_s=0&to_s=1")
        assert (gone.status_code, gone.json()["detail"]) == (404, f"The picture {number} is kept no more.")


def test_what_is_armed_is_told_and_taken_back(pump: Service) -> None:
    body = {"what": "crossing", "reading": "current_rms_a", "level": 3.0}
    with pump.client as client:
        armed = client.post("/api/rigs/pump/arm", json=body, headers=AUTHORIZED).json()
        assert armed["armed"] == "RMS current above 3 A"
        told = client.get("/api/rigs/pump/kept").json()["armed"]
        assert (told["before_s"], told["after_s"], told["within_s"]) == (0.2, 1.5, 0.01)
        assert client.post("/api/rigs/pump/disarm", json={}, headers=AUTHORIZED).json()["armed"] is None
        assert client.get("/api/rigs/pump/kept").json()["armed"] is None


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ({"what": "crossing", "reading": "smell", "level": 3.0}, 'there is none called "smell"'),
        ({"what": "start", "after_s": 60.0}, "after_s: "),
        ({"what": "start", "before_s": -1.0}, "before_s: "),
        ({"what": "stop"}, "what: "),
        ({"what": "start", "when": "now"}, "when: "),
    ],
)
def test_what_cannot_be_waited_for_is_said(pump: Service, body: dict[str, object], words: str) -> None:
    with pump.client as client:
        answer = client.post("/api/rigs/pump/arm", json=body, headers=AUTHORIZED)
    assert answer.status_code == 422
    assert words in answer.json()["detail"]


@pytest.mark.parametrize(
    ("path", "status", "words"),
    [
        ("/api/rigs/pump/kept/9/trace?from_s=0&to_s=1", 404, "kept no more"),
        ("/api/rigs/nobody/kept", 404, "There is no rig"),
        ("/api/rigs/pump/kept/1/trace?from_s=1&to_s=1", 422, "ends before it begins"),
        ("/api/rigs/pump/kept/1/trace?from_s=nan&to_s=1", 422, "from_s: "),
        ("/api/rigs/pump/kept/1/between?one_s=0&one=0&other_s=1&other=5", 422, "no line of channel 5"),
    ],
)
def test_what_cannot_be_answered_is_said(pump: Service, path: str, status: int, words: str) -> None:
    with pump.client as client:
        client.post("/api/rigs/pump/hold", json={}, headers=AUTHORIZED)
        answer = client.get(path)
    assert answer.status_code == status
    assert words in answer.json()["detail"]


def test_a_rig_without_samples_holds_nothing_and_says_so(bench: Service) -> None:
    with bench.client as client:
        answer = client.post("/api/rigs/empty/hold", json={}, headers=AUTHORIZED)
    assert answer.status_code == 409
    assert answer.json()["detail"] == "Nothing is kept: no voltage or current has come."
