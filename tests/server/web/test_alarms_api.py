"""Alarms over HTTP: listed, acknowledged on the page and on a device, shelved and told of again."""

import time
from collections.abc import Callable, Iterator
from pathlib import Path
from typing import Any

import pytest

from server.pipeline import Output
from server.readings import Instant, Reading
from tests.server.live.blocks import Sync
from tests.server.web.bench import Service, running
from tests.server.web.devices import device
from tests.server.web.raw import TOKEN

AUTHORIZED = {"Authorization": f"Bearer {TOKEN}", "Slipring-Request": "1"}


@pytest.fixture(scope="module")
def bench(page: Path) -> Iterator[Service]:
    with running(page, "heron-1", "heron-2", bench=True) as started:
        yield started


def until(look: Callable[[], Any]) -> Any:
    end_s = time.monotonic() + 5.0
    while time.monotonic() < end_s:
        if found := look():
            return found
        time.sleep(0.02)
    raise AssertionError("it did not come")


def see(bench: Service, word: str, begin_s: float, rig: str = "heron-1") -> None:
    """A second of windows in this state."""
    view = bench.rigs.rigs[rig].view
    until(lambda: view.followers)
    for k in range(6):
        instant = Instant(0, 0, begin_s + 0.2 * k, 0.2, (Reading("run_state", word),))
        view.take(Output(instants=(instant,), clock=Sync(bench.rigs.utc_s())), Sync())  # type: ignore[arg-type]


def test_an_alarm_is_listed_acknowledged_by_a_phone_and_over(bench: Service) -> None:
    with bench.client as client, device(bench, "phone") as phone:
        see(bench, "stalled", 1.0)
        (alarm,) = client.get("/api/alarms").json()["standing"]
        assert (alarm["rig"], alarm["name"], alarm["act"]) == ("heron-1", "stalled", "Switch off")
        assert [(rig["name"], rig["rank"], rig["tag"]) for rig in client.get("/api/rigs").json()] == [
            ("heron-1", 2, "stalled"),
            ("heron-2", 0, ""),
        ]
        path = "/api/rigs/heron-1/alarms/acknowledge"
        answer = phone.post(path, json={"id": alarm["id"], "note": "jammed by a stick"})
        assert answer.json() == {"rig": "heron-1", "alarm": "stalled", "done": "acknowledge"}
        again = client.post(path, json={"id": alarm["id"]}, headers=AUTHORIZED)
        assert (again.status_code, again.json()["detail"]) == (
            409,
            "There is nothing to acknowledge of stalled on heron-1.",
        )
        (seen,) = client.get("/api/alarms").json()["standing"]
        assert (seen["acknowledged"]["note"], seen["acknowledged"]["by"]) == ("jammed by a stick", "phone")
        see(bench, "resting", 3.0)
        assert client.get("/api/alarms").json() == {"standing": [], "more": 0, "trouble": ""}
        told = client.get("/api/rigs/heron-1/alarms").json()["told"]
        assert [each["kind"] for each in told] == ["ended", "acknowledged", "raised"]
        gone = client.post(path, json={"id": alarm["id"]}, headers=AUTHORIZED)
        assert (gone.status_code, gone.json()["detail"]) == (
            409,
            "This alarm is over, or has been taken in by a newer one.",
        )


def test_what_is_watched_is_shelved_with_a_reason_and_told_of_again(bench: Service) -> None:
    base = "/api/rigs/heron-1/alarms"
    with bench.client as client:
        wanted = {"alarm": "stalled", "for_s": 600.0, "reason": "held on purpose"}
        assert client.post(f"{base}/shelve", json=wanted, headers=AUTHORIZED).status_code == 200
        see(bench, "stalled", 5.0)
        assert client.get("/api/alarms").json()["standing"] == []
        watched = {each["name"]: each for each in client.get(base).json()["watched"]}
        assert watched["stalled"]["shelf"]["reason"] == "held on purpose"
        assert (watched["brush_wear"]["watched"], watched["brush_wear"]["ready"]) == (False, True)
        assert client.post(f"{base}/unshelve", json={"alarm": "stalled"}, headers=AUTHORIZED).status_code == 200
        assert [each["name"] for each in client.get("/api/alarms").json()["standing"]] == ["stalled"]
        for wrong in ({**wanted, "for_s": 43_201.0}, {**wanted, "for_s": 0}, {**wanted, "reason": ""}):
            assert client.post(f"{base}/shelve", json=wrong, headers=AUTHORIZED).status_code == 422
        nothing = client.post(f"{base}/shelve", json={**wanted, "alarm": "brush_wear"}, headers=AUTHORIZED)
        assert nothing.status_code == 409
        assert nothing.json()["detail"].startswith("heron-1 watches no alarm brush_wear; it watches stalled, ")


def test_what_alarms_can_be_set_on_is_told_with_its_words(bench: Service) -> None:
    with bench.client as client:
        kinds = client.get("/api/alarm-kinds").json()
        assert kinds["events"]["voltage_dip"] == "the voltage dipped"
        assert "phase_open" in kinds["verdicts"]
        assert client.get("/api/rigs/nobody/alarms").status_code == 404
