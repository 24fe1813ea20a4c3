"""Wiring and drive of a demo motor changed over HTTP; a real board is never told anything."""

from typing import Any

import pytest

from server.checking import Checking
from server.demo_board import DemoBoardError, RefusedSettingError
from tests.server.web.bench import BenchRig, Service
from tests.server.web.raw import TOKEN

AUTHORIZED = {"Authorization": f"Bearer {TOKEN}", "Slipring-Request": "1"}
ANSWER = {
    "id": 1,
    "teaching": True,
    "settings": {"drive": "off", "hall_order": "BCA", "hall_late_deg": 0.0},
    "choices": [
        {"key": "hall_order", "says": "sensors", "values": [{"value": "ABC", "says": ""}]},
        {"key": "hall_late_deg", "says": "late", "low": -60.0, "high": 60.0},
    ],
}


@pytest.fixture
def bench(service: Service) -> Service:
    demo = BenchRig("heron-3")
    demo.demo, demo.view.demo_motor = True, "net_winder"
    service.rigs.rigs = {"heron-3": demo, "bench": BenchRig("bench")}
    service.rigs.told, service.rigs.answer = [], ANSWER
    return service


def asked(bench: Service, method: str, path: str, body: object = None) -> tuple[int, Any]:
    with bench.client as client:
        answer = client.request(method, path, json=body, headers=AUTHORIZED)
    return answer.status_code, answer.json()


def test_settings_are_told_to_the_software_board_and_its_answer_comes_back(bench: Service) -> None:
    wanted = {"hall_order": "BCA", "hall_late_deg": 12.5, "phase_u_open": True}
    status, said = asked(bench, "PUT", "/api/rigs/heron-3/demo/settings", {"settings": wanted})
    assert status == 200
    assert bench.rigs.told == [("heron-3", {"set": wanted})]
    assert (said["rig"], said["motor"], said["teaching"]) == ("heron-3", "net_winder", True)
    assert said["settings"] == ANSWER["settings"]
    assert [choice["key"] for choice in said["choices"]] == ["hall_order", "hall_late_deg"]
    assert said["choices"][1]["high"] == 60.0


def test_the_table_that_the_drive_of_a_demo_motor_is_set_to_is_the_one_that_its_wiring_is_judged_by(
    bench: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    tables: list[int | None] = []
    monkeypatch.setattr(Checking, "drive_table", lambda self, view, spacing_deg: tables.append(spacing_deg))
    for teaching in (True, False):
        bench.rigs.answer = {**ANSWER, "teaching": teaching, "settings": {"controller_spacing_deg": 60.0}}
        settings = {"settings": {"controller_spacing_deg": 60}}
        assert asked(bench, "PUT", "/api/rigs/heron-3/demo/settings", settings)[0] == 200
    assert tables == [60, None]


def test_what_was_turned_is_forgotten_with_other_wires_but_not_with_another_drive(
    bench: Service, monkeypatch: pytest.MonkeyPatch
) -> None:
    forgotten: list[str] = []
    monkeypatch.setattr(Checking, "anew", lambda self, view: forgotten.append(view.name))
    for settings, times in (({"drive": "hand_forward"}, 0), ({"drive": "spin", "hall_order": "BCA"}, 1)):
        assert asked(bench, "PUT", "/api/rigs/heron-3/demo/settings", {"settings": settings})[0] == 200
        assert forgotten == ["heron-3"] * times
    assert asked(bench, "POST", "/api/rigs/heron-3/demo/stories", {})[0] == 200
    assert forgotten == ["heron-3"] * 2
    bench.rigs.answer = RefusedSettingError("hall_order: write one of ABC.", "hall_order")
    assert asked(bench, "PUT", "/api/rigs/heron-3/demo/settings", {"settings": {"hall_order": "X"}})[0] == 422
    assert forgotten == ["heron-3"] * 2


def test_who_asks_changes_nothing_and_the_stories_come_back_when_asked_for(bench: Service) -> None:
    assert asked(bench, "GET", "/api/rigs/heron-3/demo")[0] == 200
    assert asked(bench, "POST", "/api/rigs/heron-3/demo/stories", {})[0] == 200
    assert [order for _, order in bench.rigs.told] == [{"ask": True}, {"stories": True}]


@pytest.mark.parametrize(
    ("method", "path", "body"),
    [
        ("GET", "demo", None),
        ("PUT", "demo/settings", {"settings": {"drive": "drive_3_a"}}),
        ("POST", "demo/stories", {}),
    ],
)
def test_a_real_board_is_told_nothing(bench: Service, method: str, path: str, body: object) -> None:
    status, said = asked(bench, method, f"/api/rigs/bench/{path}", body)
    assert status == 409
    assert said["detail"].endswith("Slipring only listens to it: nothing it sends drives a motor.")
    assert asked(bench, method, f"/api/rigs/nowhere/{path}", body)[0] == 404
    assert bench.rigs.told == []


def test_what_the_software_board_refuses_is_said_with_its_key(bench: Service) -> None:
    bench.rigs.answer = RefusedSettingError("hall_order: write one of ABC.", "hall_order")
    answer = asked(bench, "PUT", "/api/rigs/heron-3/demo/settings", {"settings": {"hall_order": "X"}})
    assert answer == (422, {"detail": "hall_order: write one of ABC.", "key": "hall_order"})


@pytest.mark.parametrize(
    ("answer", "said"),
    [
        (DemoBoardError("The software board net_winder is still starting."), "is still starting"),
        (KeyError("heron-3"), "The demo motor of heron-3 has been stopped."),
    ],
)
def test_a_software_board_that_cannot_answer_is_told_in_words(bench: Service, answer: Exception, said: str) -> None:
    bench.rigs.answer = answer
    status, detail = asked(bench, "GET", "/api/rigs/heron-3/demo")
    assert status == 503
    assert said in detail["detail"]


@pytest.mark.parametrize(
    "body",
    [{}, {"settings": {}}, {"settings": {"hall_order": [1]}}, {"settings": {"x" * 1000: 1}}, {"setting": {"a": 1}}],
)
def test_a_body_of_another_shape_is_refused_before_anything_is_told(bench: Service, body: object) -> None:
    assert asked(bench, "PUT", "/api/rigs/heron-3/demo/settings", body)[0] == 422
    assert bench.rigs.told == []
