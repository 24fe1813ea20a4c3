"""What each route needs, and that a paired device gets just that."""

import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import cast

import pytest
from fastapi import APIRouter

from server.access.entrance import Entrance
from server.access.permission import BY_ITSELF, Kind, Permission, may, needs_consent
from server.access.sessions import Sessions
from server.rigs import Rigs
from server.web.access_api import access_routes
from server.web.app import create_app
from server.web.permissions import ACT, KEY, MARK, Needs, UndeclaredRouteError, change
from tests.server.web.bench import BenchRigs, Service, running
from tests.server.web.devices import at_pc, device
from tests.server.web.raw import TOKEN

NEEDED = {
    Permission.OPEN: {("GET", "/api/door"), ("POST", "/api/enter"), ("POST", "/api/pair")},
    Permission.MARK: {
        ("PUT", "/api/runs/{name}/note"),
        ("POST", "/api/plays"),
        ("PUT", "/api/plays/{name}"),
        ("DELETE", "/api/plays/{name}"),
        ("POST", "/api/rigs/{name}/arm"),
        ("POST", "/api/rigs/{name}/disarm"),
        ("POST", "/api/rigs/{name}/hold"),
        ("POST", "/api/rigs/{name}/alarms/acknowledge"),
        ("POST", "/api/rigs/{name}/alarms/unshelve"),
        ("POST", "/api/rigs/{name}/wiring/anew"),
        ("PUT", "/api/rigs/{name}/wiring/names"),
        ("POST", "/api/rigs/{name}/check"),  # the phone in the other hand walks through it
        ("POST", "/api/rigs/{name}/check/keep"),
        ("POST", "/api/exports"),
        ("POST", "/api/runs/{name}/file"),
        ("DELETE", "/api/exports/{number}"),
        ("POST", "/api/runs/{name}/report"),
        ("PUT", "/api/runs/{name}/tags"),
    },
    Permission.PC: {
        ("GET", "/api/sessions"),
        ("DELETE", "/api/sessions/{number}"),
        ("POST", "/api/links"),
        ("GET", "/api/pairing"),
        ("POST", "/api/pairing"),
        ("DELETE", "/api/pairing"),
        ("GET", "/api/consents"),
        ("POST", "/api/consents/{number}"),
        ("POST", "/api/receivers/{name}/test"),
    },
}  # all other GETs look; whatever else there is changes something
FIT: dict[tuple[str, str], dict[str, object] | None] = {  # what there is something to ask the PC for; usual: {}
    ("POST", "/api/rigs"): {"name": "new", "port": "/dev/ttyTEST2"},
    ("POST", "/api/rigs/{name}/run"): {"action": "end"},
    ("POST", "/api/ports/ask"): {"port": "/dev/ttyTEST2"},
    ("POST", "/api/demo/start"): {"motor": "cabin_ventilator"},
    ("POST", "/api/rigs/{name}/alarms/shelve"): {"alarm": "stalled", "for_s": 60, "reason": "held on purpose"},
    ("PUT", "/api/rigs/{name}/plan"): {"text": '[test]\nspecimen = "fan"\ngoal_hours = 1'},
    ("POST", "/api/rigs/{name}/calibration/measure"): {"what": "zero", "channel": 0},
    ("POST", "/api/rigs/{name}/calibration/undo"): {"what": "zero", "channel": 0},
    **dict.fromkeys(
        (
            ("POST", "/api/rigs/{name}/undo"),
            ("POST", "/api/demo/stop"),
            ("DELETE", "/api/runs/{name}"),
            ("POST", "/api/runs/{name}/undo"),
            ("DELETE", "/api/runs/{name}/checks/{number}"),
            ("POST", "/api/runs/{name}/checks/{number}/undo"),
            ("DELETE", "/api/rigs/{name}/kept/{number}"),
            ("DELETE", "/api/rigs/{name}/plan"),
            ("PUT", "/api/rigs/{name}/demo/settings"),
            ("POST", "/api/rigs/{name}/demo/stories"),
        )
    ),
}
OWN = ("DELETE", "/api/session")  # whoever is in may leave


@pytest.fixture(scope="module")
def bench(page: Path) -> Iterator[Service]:
    with running(page, "heron-1", "heron-2", bench=True) as started:
        yield started


def declared(service: Service) -> dict[tuple[str, str], dict[str, str]]:
    """What the description of the interface says of every route."""
    with service.client as client:
        paths = client.get("/api/openapi.json").json()["paths"]
    return {(method.upper(), path): said for path, methods in paths.items() for method, said in methods.items()}


def test_every_route_declares_what_it_needs(bench: Service) -> None:
    routes = declared(bench)
    assert len(routes) > 50
    for route, said in routes.items():
        by_list = next((needed for needed, which in NEEDED.items() if route in which), None)
        look = route[0] == "GET" or route == OWN
        expected = by_list or (Permission.LOOK if look else Permission.CHANGE)
        assert said.get(KEY) == expected, route
        assert (ACT in said) == (expected is Permission.CHANGE), route


@pytest.mark.parametrize(
    ("method", "extra", "why"),
    [
        ("GET", None, "does not say what it needs"),
        ("POST", {}, "does not say what it needs"),
        ("POST", {KEY: "everything"}, "does not say what it needs"),
        ("POST", change(""), "does not say what"),
        ("GET", MARK, "must change nothing"),
        ("GET", change("end it all"), "must change nothing"),
    ],
)
def test_a_route_that_does_not_say_what_it_needs_keeps_the_service_from_starting(
    method: str, extra: dict[str, str], why: str, monkeypatch: pytest.MonkeyPatch, tmp_path: Path
) -> None:
    routes = APIRouter(prefix="/api")
    routes.add_api_route("/forgotten", lambda: None, methods=[method], openapi_extra=extra)
    with pytest.raises(UndeclaredRouteError, match=why):
        Needs(routes.routes)
    entrance = Entrance(TOKEN, Sessions(tmp_path / "sessions.json", time.time))
    monkeypatch.setattr("server.web.app.access_routes", lambda entrance: routes)
    with pytest.raises(UndeclaredRouteError, match="/api/forgotten"):
        create_app(cast(Rigs, BenchRigs()), entrance, tmp_path)


def test_a_path_that_is_no_routes_is_nobodys_but_the_pcs(tmp_path: Path) -> None:
    entrance = Entrance(TOKEN, Sessions(tmp_path / "sessions.json", time.time))
    needs = Needs(access_routes(entrance).routes)
    assert needs.of("DELETE", "/api/session").permission is Permission.LOOK
    for path in ("/api/sessions/7", "/api/session/", "/api//session", "/API/session", "/api/session/../sessions/7"):
        assert needs.of("DELETE", path).permission is Permission.PC
    assert needs.of("DELETE", "/nothing").permission is Permission.PC  # unknown: nobody but the PC, who gets a 404
    assert needs.of("GET", "/nothing").permission is Permission.LOOK


def test_only_a_device_needs_consent_and_only_to_change() -> None:
    asked = {(kind, each) for kind in Kind for each in Permission if needs_consent(kind, each)}
    assert asked == {(Kind.DEVICE, Permission.CHANGE)}
    assert not may(Kind.DEVICE, Permission.PC)
    assert all(may(kind, each) for kind in (Kind.SCRIPT, Kind.BROWSER) for each in Permission)
    assert set(BY_ITSELF) == set(Kind)


def test_a_question_says_which_settings_get_which_values_and_how_many_more() -> None:
    routes = APIRouter(prefix="/api")
    routes.add_api_route("/rigs/{name}", lambda: None, methods=["PUT"], openapi_extra=change("set on {name}: {its}"))
    need = Needs(routes.routes).of("PUT", "/api/rigs/demo")
    assert need.words(b'{"its": {"hall_order": "BCA", "direction": -1}}') == "set on demo: hall order BCA, direction -1"
    many = b'{"its": {"hall_order": "BCA", "direction": -1, "drive": "spin", "hall_inverted": "A"}}'
    assert need.words(many) == "set on demo: hall order BCA, direction -1 and 2 more"
    assert need.words(b'{"its": {"' + b"x" * 90 + b'": 1}}') == "set on demo: 1 settings"
    assert need.words(b'{"its": {"drive": "\\u001b[2J"}}') == "set on demo: drive [2J"


def test_the_words_of_a_question_hold_what_was_asked_for_and_no_trick() -> None:
    routes = APIRouter(prefix="/api")
    routes.add_api_route(
        "/rigs/{name}", lambda: None, methods=["PUT"], openapi_extra=change("change {keys} of {name} to {motor}")
    )
    need = Needs(routes.routes).of("PUT", "/api/rigs/bench")
    assert need.words(b'{"motor": "pump", "name": "other"}') == "change motor, name of bench to pump"
    assert need.words(b"") == "change ? of bench to ?"
    assert need.words(b'{"motor": "\\u001b[2Ja\\nb {keys}"}') == "change motor of bench to [2Ja b {keys}"
    assert need.words(b"[" * 9000) == "change ? of bench to ?"
    assert len(need.words(b'{"motor": "' + b"x" * 5000 + b'"}')) < 120


def path_of(template: str) -> str:
    parts = {"{name}": "heron-1", "{number}": "7", "{type}": "servo", "{reading_id}": "speed_rpm"}
    for part, value in parts.items():
        template = template.replace(part, value)
    return template


def test_a_paired_device_looks_and_marks_and_gets_no_further_by_itself(bench: Service) -> None:
    with device(bench) as phone, ThreadPoolExecutor() as pool:
        for (method, template), said in declared(bench).items():
            path, needed = path_of(template), Permission(said[KEY])
            if template == "/api/lines" or (method, template) == OWN:
                continue
            body = FIT.get((method, template), {})
            asking = pool.submit(phone.request, method, path, json=body)
            if needed is Permission.CHANGE and body is not None:
                refuse_next(bench)
            status = asking.result(20).status_code
            if body is None:  # nothing of what it asks for is there: the PC is asked nothing
                assert status in (404, 409, 422, 503), (method, path)
            elif needed in (Permission.CHANGE, Permission.PC):
                assert status == 403, (method, path)
            elif needed is not Permission.OPEN:
                assert status not in (401, 403), (method, path)
    assert set(bench.rigs.rigs) == {"heron-1", "heron-2"}
    assert all(rig.runs_ended == 0 for rig in bench.rigs.rigs.values())


def refuse_next(service: Service) -> None:
    end_s = time.monotonic() + 5
    while time.monotonic() < end_s:
        if asked := at_pc(service, "GET", "/api/consents", {}):
            at_pc(service, "POST", f"/api/consents/{asked[0]['number']}", {"accept": False})
            return
        time.sleep(0.01)
    raise AssertionError("the PC was asked nothing")


def test_the_lines_are_a_devices_to_read(bench: Service) -> None:
    with device(bench) as phone, phone.stream("GET", "/api/lines") as lines:
        assert lines.status_code == 200


def test_leaving_is_everybodys(bench: Service) -> None:
    with device(bench) as phone:
        assert phone.request("DELETE", "/api/session", json={}).status_code == 200
        assert phone.get("/api/rigs").status_code == 401
