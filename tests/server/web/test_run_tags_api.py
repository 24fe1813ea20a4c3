"""Tags of runs over HTTP, the kinds of what happened in a run, and finding by both."""

from server.runs.beside import write_digest
from server.runs.log.dated import Dated, add_dated
from server.runs.sum_up import summed_up
from tests.server.runs.recordings import OPENED_UTC_S, recorded_run
from tests.server.web.test_runs_api import SHORT, Runs, runs, whole

__all__ = ["runs"]


def test_tags_are_kept_once_each_found_and_taken_away(runs: Runs) -> None:
    name, _ = whole(runs.library), recorded_run(runs.library, rig="other", story=SHORT)
    wanted = ["reference", " old   wheel", "Reference", ""]
    assert runs.ask("PUT", f"/runs/{name}/tags", {"tags": wanted}) == (200, {"run": name})
    assert runs.ask("GET", f"/runs/{name}")[1]["tags"] == ["reference", "old wheel"]
    assert runs.names("%23reference wheel") == [name]
    assert runs.ask("PUT", f"/runs/{name}/tags", {"tags": ["red \x1b[31m"]})[0] == 422
    assert runs.ask("PUT", f"/runs/{name}/tags", {"tags": ["x"] * 13})[0] == 422
    assert runs.ask("PUT", f"/runs/{name}/tags", {"tags": []})[0] == 200
    assert runs.names("%23reference") == []
    assert not (runs.library.folder / name / "tags.txt").exists()
    assert runs.ask("PUT", "/runs/no-such-run/tags", {"tags": []})[0] == 404


def test_a_run_tells_the_kinds_of_what_happened_and_is_found_by_its_alarms(runs: Runs) -> None:
    name, _ = whole(runs.library), whole(runs.library, rig="other", story=SHORT)
    assert {"power_on", "stalled"} <= set(runs.ask("GET", f"/runs/{name}")[1]["kinds"])
    found = summed_up(runs.library.folder / name)
    found["evidence"]["events"]["stalled"][0] = 500  # of so many only the first and the newest are kept
    write_digest(runs.library.folder / name, found)
    assert "stalled 500 times" in runs.ask("GET", "/runs?words=stalled")[1][0]["happened"]
    said = {"kind": "raised", "rank": "alarm", "act": "Switch off", "why": "The shaft is stuck; it gets hot."}
    for kind in ("raised", "ended", "raised"):
        add_dated(runs.library.folder / name, Dated("alarm", OPENED_UTC_S + 1.0, None, {**said, "kind": kind}))
    assert "alarm raised: The shaft is stuck, twice" in runs.ask("GET", f"/runs/{name}")[1]["happened"]
    assert runs.names("switch stuck") == [name]
    assert "alarm" in runs.ask("GET", f"/runs/{name}")[1]["kinds"]
