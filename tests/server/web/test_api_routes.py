"""Which routes there are, each described, and that asking changes nothing."""

from tests.server.web.bench import Service
from tests.server.web.test_api import bench, got

__all__ = ["bench"]


def test_the_description_names_every_route_with_its_purpose_and_its_answer(bench: Service) -> None:
    description = got(bench, "/api/openapi.json")
    asked = {(method.upper(), path) for path, methods in description["paths"].items() for method in methods}
    assert asked == {
        ("GET", "/api/rigs"),
        ("POST", "/api/rigs"),
        ("GET", "/api/rigs/{name}"),
        ("PUT", "/api/rigs/{name}"),
        ("DELETE", "/api/rigs/{name}"),
        ("GET", "/api/rigs/{name}/readings"),
        ("GET", "/api/rigs/{name}/readings/{reading_id}"),
        ("GET", "/api/rigs/{name}/events"),
        ("GET", "/api/rigs/{name}/connections"),
        ("GET", "/api/rigs/{name}/spectrum"),
        ("GET", "/api/rigs/{name}/trends"),
        ("GET", "/api/rigs/{name}/harmonics"),
        ("POST", "/api/rigs/{name}/run"),
        ("POST", "/api/rigs/{name}/undo"),
        ("GET", "/api/motor-types"),
        ("GET", "/api/motor-types/{type}/connections"),
        ("POST", "/api/ports/look"),
        ("POST", "/api/ports/ask"),
        ("GET", "/api/rigs/{name}/demo"),
        ("PUT", "/api/rigs/{name}/demo/settings"),
        ("POST", "/api/rigs/{name}/demo/stories"),
        ("GET", "/api/demo"),
        ("POST", "/api/demo/start"),
        ("POST", "/api/demo/stop"),
        ("GET", "/api/quantities"),
        ("GET", "/api/runs"),
        ("GET", "/api/runs/deleted"),
        ("POST", "/api/runs/deleted/empty"),
        ("GET", "/api/runs/{name}"),
        ("GET", "/api/runs/{name}/trends"),
        ("GET", "/api/runs/{name}/cycles"),
        ("GET", "/api/runs/{name}/night"),
        ("PUT", "/api/runs/{name}/tags"),
        ("GET", "/api/rigs/{name}/night"),
        ("GET", "/api/compare"),
        ("GET", "/api/rigs/{name}/plan"),
        ("PUT", "/api/rigs/{name}/plan"),
        ("DELETE", "/api/rigs/{name}/plan"),
        ("GET", "/api/rigs/{name}/plan/judgement"),
        ("DELETE", "/api/runs/{name}"),
        ("PUT", "/api/runs/{name}/note"),
        ("POST", "/api/runs/{name}/undo"),
        ("GET", "/api/runs/{name}/export-size"),
        ("POST", "/api/runs/{name}/report"),
        ("GET", "/api/exports"),
        ("POST", "/api/exports"),
        ("GET", "/api/exports/formats"),
        ("GET", "/api/exports/{number}/file"),
        ("GET", "/api/runs/{name}/file-size"),
        ("POST", "/api/runs/{name}/file"),
        ("DELETE", "/api/exports/{number}"),
        ("GET", "/api/plays"),
        ("POST", "/api/plays"),
        ("PUT", "/api/plays/{name}"),
        ("DELETE", "/api/plays/{name}"),
        ("GET", "/api/lines"),
        ("GET", "/api/receivers"),
        ("GET", "/api/health"),
        ("GET", "/metrics"),
        ("POST", "/api/receivers/{name}/test"),
        ("GET", "/api/rigs/{name}/calibration"),
        ("GET", "/api/rigs/{name}/calibration/look"),
        ("POST", "/api/rigs/{name}/calibration/measure"),
        ("POST", "/api/rigs/{name}/calibration/keep"),
        ("POST", "/api/rigs/{name}/calibration/undo"),
        ("GET", "/api/rigs/{name}/kept"),
        ("DELETE", "/api/rigs/{name}/kept/{number}"),
        ("GET", "/api/rigs/{name}/kept/{number}/trace"),
        ("GET", "/api/rigs/{name}/kept/{number}/between"),
        ("POST", "/api/rigs/{name}/arm"),
        ("POST", "/api/rigs/{name}/disarm"),
        ("POST", "/api/rigs/{name}/hold"),
        ("GET", "/api/door"),
        ("POST", "/api/enter"),
        ("POST", "/api/pair"),
        ("GET", "/api/session"),
        ("DELETE", "/api/session"),
        ("GET", "/api/sessions"),
        ("DELETE", "/api/sessions/{number}"),
        ("POST", "/api/links"),
        ("GET", "/api/pairing"),
        ("POST", "/api/pairing"),
        ("DELETE", "/api/pairing"),
        ("GET", "/api/consents"),
        ("POST", "/api/consents/{number}"),
        ("GET", "/api/alarms"),
        ("GET", "/api/alarm-kinds"),
        ("GET", "/api/rigs/{name}/alarms"),
        ("POST", "/api/rigs/{name}/alarms/acknowledge"),
        ("POST", "/api/rigs/{name}/alarms/shelve"),
        ("POST", "/api/rigs/{name}/alarms/unshelve"),
        ("GET", "/api/rigs/{name}/wiring"),
        ("POST", "/api/rigs/{name}/wiring/anew"),
        ("PUT", "/api/rigs/{name}/wiring/names"),
        ("POST", "/api/rigs/{name}/check"),
        ("POST", "/api/rigs/{name}/check/keep"),
        ("GET", "/api/runs/{name}/checks"),
        ("GET", "/api/runs/{name}/checks/deleted"),
        ("GET", "/api/runs/{name}/checks/{number}"),
        ("DELETE", "/api/runs/{name}/checks/{number}"),
        ("POST", "/api/runs/{name}/checks/{number}/undo"),
    }
    for path, methods in description["paths"].items():
        for method, route in methods.items():
            assert route["description"], path
            good = next(answer for status, answer in route["responses"].items() if status.startswith("2"))
            assert next(iter(good["content"].values()))["schema"], (method, path)


def test_no_get_changes_anything(bench: Service) -> None:
    before = {name: rig.settings for name, rig in bench.rigs.rigs.items()}
    with bench.client as client:
        for path, methods in client.get("/api/openapi.json").json()["paths"].items():
            if "get" in methods and not path.startswith(
                ("/api/lines", "/api/runs", "/api/plays", "/api/exports", "/api/compare")
            ):
                more: dict[str, str | int] = {"action": "end", "motor": "x", "what": "zero", "channel": 0}
                more |= {"one_s": 0, "one": 0, "other_s": 1, "other": 0, "from_s": 0, "to_s": 1, "from": 0, "to": 1}
                there = path.replace("{name}", "heron-1").replace("{type}", "servo").replace("{number}", "7")
                answer = client.get(there, params=more)
                no_board = 409 if path.endswith(("/look", "{name}/demo")) else 200  # of a board, of a software board
                no_board = (
                    503 if path.endswith(("/trends", "/health", "/night")) else no_board
                )  # nothing is recorded here
                nothing_yet = "{reading_id}" in path or "{number}" in path or path.endswith("/judgement")
                assert answer.status_code == (404 if nothing_yet else no_board), path
    assert {name: rig.settings for name, rig in bench.rigs.rigs.items()} == before
    assert all(rig.runs_ended == 0 for rig in bench.rigs.rigs.values())
