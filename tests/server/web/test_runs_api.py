"""Recorded runs over HTTP: found, read, noted, deleted, brought back and played; what is wrong is said in words."""

import asyncio
import os
import shutil
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from pathlib import Path
from typing import Any

import pytest

from server.calibration.files import CalibrationFiles
from server.live.own_time import OwnTime
from server.live.records import Connection, ConnectionState, Recording, RecordingState
from server.recorded import PLAYS_MAX, Recorded
from server.runs.beside import write_digest
from server.runs.library import Library
from server.runs.sum_up import summed_up
from tests.server.calibration.boards import BOARD, RUNNING, gained
from tests.server.runs.recordings import OPENED_UTC_S, recorded_run, segment_of
from tests.server.web.bench import BenchRig, Service
from tests.server.web.raw import TOKEN

AUTHORIZED = {"Authorization": f"Bearer {TOKEN}", "Slipring-Request": "1"}
SHORT = ((0.4, 0.0, 0.0, 0.0),)
NO_NAMES = (
    "no-such-run",
    "..",
    "%2e%2e",
    "..%2f..%2fetc",
    "deleted",
    "catalogue.sqlite",
    "20261125-1402-x%00",
    "x" * 300,
)


class Runs:
    """The API as a script asks it, and the library behind it."""

    def __init__(self, service: Service, library: Library) -> None:
        self.service, self.library = service, library

    def ask(self, method: str, path: str, body: object = None) -> tuple[int, Any]:
        with self.service.client as client:
            answer = client.request(
                method, f"/api{path}", json=None if method == "GET" else body or {}, headers=AUTHORIZED
            )
        return answer.status_code, answer.json()

    def names(self, words: str = "") -> list[str]:
        return [run["name"] for run in self.ask("GET", f"/runs?words={words}")[1]]


@pytest.fixture
def runs(service: Service, tmp_path: Path) -> Iterator[Runs]:
    """A library of its own behind the service; nothing is summed up by itself."""
    library = Library(tmp_path / "runs")
    service.rigs.rigs = {name: BenchRig(name) for name in ("heron-1", "heron-2")}
    service.rigs.recorded = Recorded(library, time.time)
    yield Runs(service, library)
    stopping = asyncio.run_coroutine_threadsafe(service.rigs.recorded.stop(), service.server_loop)
    stopping.result(5)
    service.rigs.recorded = None
    library.close()


def whole(library: Library, **how: Any) -> str:
    """A recorded run that was summed up."""
    name = recorded_run(library, **how)
    write_digest(library.folder / name, summed_up(library.folder / name))
    return name


def test_without_a_library_each_question_is_answered_with_a_sentence(service: Service) -> None:
    service.rigs.recorded = None
    with service.client as client:
        for path in ("/api/runs", "/api/runs/x", "/api/runs/deleted", "/api/plays"):
            answer = client.get(path)
            assert (answer.status_code, "cannot be used" in answer.json()["detail"]) == (503, True)


def test_a_run_is_listed_with_what_happened_and_its_first_start(runs: Runs) -> None:
    name = whole(runs.library)
    _, (told,) = runs.ask("GET", "/runs")
    assert (told["name"], told["motor"], told["recording"], told["summed_up"]) == (name, "test fan", False, True)
    assert told["length_s"] == pytest.approx(9.0, abs=0.2)
    assert "stalled" in told["happened"]
    assert len(told["start"]["current_a"]) == 120
    assert told["bytes"] == segment_of(runs.library, name).stat().st_size
    _, one = runs.ask("GET", f"/runs/{name}")
    assert one["events"][0]["kind"] == "power_on"
    assert "supply, line: promised 9\u202f000 each, stored 9\u202f000" in [each["words"] for each in one["account"]]
    assert max(each for each in one["overview"]["high"] if each) == pytest.approx(1.5, rel=0.02)


def test_a_run_that_was_not_summed_up_yet_is_listed_without(runs: Runs) -> None:
    recorded_run(runs.library, story=SHORT)
    _, (told,) = runs.ask("GET", "/runs")
    assert (told["summed_up"], told["start"], told["happened"], told["trouble"]) == (False, None, [], "")


def test_a_run_that_is_recorded_now_tells_what_its_rig_has_seen(runs: Runs) -> None:
    name = recorded_run(runs.library, "heron-1", closed=False)
    view = runs.service.rigs.rigs["heron-1"].view
    view.recorded = lambda: Recording(RecordingState.RECORDING, OPENED_UTC_S, run=name)
    event = {"kind": "auxiliary", "text": "Auxiliary current came back", "detail": "", "decisive": True}
    view.events.extend([{**event, "utc_s": OPENED_UTC_S + 0.3}, {**event, "utc_s": OPENED_UTC_S - 30.0}])
    view.time = OwnTime(pace=0.0, ahead_s=OPENED_UTC_S + 240.0)
    _, (told,) = runs.ask("GET", "/runs")
    assert told["length_s"] == pytest.approx(240.0, abs=0.1)  # by the clock of its board, which may be a demo motor's
    assert (told["recording"], told["closed_utc_s"], told["kinds"]) == (True, None, ["auxiliary"])
    assert told["happened"] == ["stalled", "auxiliary current came back", "load changed"]  # of its log: memory has less
    assert told["events_count"] > 2  # likewise; in memory is one of this run
    assert told["silent_since_utc_s"] is None
    assert [each["utc_s"] for each in runs.ask("GET", f"/runs/{name}")[1]["events"]] == [OPENED_UTC_S + 0.3]
    view.connection = Connection(ConnectionState.DISCONNECTED, "the cable is out", since_utc_s=OPENED_UTC_S + 60.0)
    assert runs.ask("GET", "/runs")[1][0]["silent_since_utc_s"] == OPENED_UTC_S + 60.0


def test_words_find_runs_by_motor_event_note_and_rig_and_all_of_them_must_stand_there(runs: Runs) -> None:
    fan, rest = whole(runs.library, rig="a"), whole(runs.library, rig="b", story=SHORT)
    assert runs.ask("PUT", f"/runs/{rest}/note", {"note": "Reference run; old WHEEL"})[0] == 200
    assert runs.names() == [rest, fan]
    assert runs.names("TEST fan stalled") == [fan]
    assert runs.names("old wheel") == [rest]
    assert runs.names("old stalled") == []
    assert runs.names("%25_'") == []


def test_a_note_is_kept_beside_the_run_changed_and_taken_away(runs: Runs) -> None:
    name = recorded_run(runs.library, story=SHORT)
    assert runs.ask("PUT", f"/runs/{name}/note", {"note": " first run\nwith the new wheel ⚙ "}) == (200, {"run": name})
    assert runs.ask("GET", f"/runs/{name}")[1]["note"] == "first run\nwith the new wheel ⚙"
    again = Library(runs.library.folder)
    assert (again.folder / name / "note.txt").read_text() == "first run\nwith the new wheel ⚙"
    again.close()
    status, answer = runs.ask("PUT", f"/runs/{name}/note", {"note": "red \x1b[31m"})
    said = "note: the character U+001B cannot be shown in a text; write plain text."
    assert (status, answer["detail"]) == (422, said)
    assert runs.ask("PUT", f"/runs/{name}/note", {"note": ""})[0] == 200
    assert sorted(path.name for path in (runs.library.folder / name).iterdir()) == ["0001.run", "log.sqlite"]
    assert runs.ask("PUT", f"/runs/{name}/note", {"note": "x" * 2001})[0] == 422
    assert runs.ask("PUT", f"/runs/{name}/note", {"note": "x", "more": 1})[0] == 422


@pytest.mark.parametrize("name", NO_NAMES)
def test_a_name_that_no_run_has_is_refused_whatever_is_asked(runs: Runs, name: str) -> None:
    kept = recorded_run(runs.library, story=SHORT)
    before = sorted(path.name for path in runs.library.folder.rglob("*"))
    asked = [
        ("GET", f"/runs/{name}", None),
        ("PUT", f"/runs/{name}/note", {"note": "x"}),
        ("DELETE", f"/runs/{name}", None),
        ("POST", f"/runs/{name}/undo", None),
        ("PUT", f"/plays/{name}", {"paused": True}),
        ("POST", "/plays", {"run": name[:200]}),
    ]
    for method, path, body in asked:
        if (method, name) == ("GET", "deleted"):
            continue  # that is the list of those
        status, said = runs.ask(method, path, body)
        assert (status in (404, 405), "detail" in said) == (True, True), (method, path, status)
    assert runs.names() == [kept]
    assert sorted(path.name for path in runs.library.folder.rglob("*")) == before


def test_a_deleted_run_is_found_among_the_deleted_and_brought_back(runs: Runs) -> None:
    name = recorded_run(runs.library, story=SHORT)
    assert runs.ask("DELETE", f"/runs/{name}") == (200, {"run": name})
    assert runs.names() == []
    _, (deleted,) = runs.ask("GET", "/runs/deleted")
    assert deleted["name"] == name
    assert deleted["removed_utc_s"] - deleted["deleted_utc_s"] == 30 * 86_400
    assert runs.ask("POST", f"/runs/{name}/undo") == (200, {"run": name})
    assert runs.names() == [name]
    assert runs.ask("POST", f"/runs/{name}/undo")[0] == 409  # it is there


def test_of_two_deletions_at_once_one_is_told_that_there_is_no_such_run(runs: Runs) -> None:
    name = recorded_run(runs.library, story=SHORT)
    with ThreadPoolExecutor(2) as pool:
        said = list(pool.map(lambda _: runs.ask("DELETE", f"/runs/{name}")[0], range(2)))
    assert sorted(said) == [200, 404]
    assert len(runs.ask("GET", "/runs/deleted")[1]) == 1


def test_an_open_run_is_not_deleted_and_the_answer_says_what_to_do(runs: Runs) -> None:
    name = recorded_run(runs.library, "heron-1", story=SHORT, closed=False)
    status, said = runs.ask("DELETE", f"/runs/{name}")
    assert (status, said["detail"]) == (409, f"{name} is still open; end the run first, then delete it.")
    assert runs.names() == [name]


def test_a_run_that_was_left_open_and_that_nothing_goes_on_with_is_deleted(runs: Runs) -> None:
    name = recorded_run(runs.library, "a-rig-that-is-gone", story=SHORT, closed=False)
    assert runs.ask("DELETE", f"/runs/{name}")[0] == 200


def test_deleted_runs_are_removed_for_good_when_a_person_says_so(runs: Runs) -> None:
    first, second = (recorded_run(runs.library, rig, story=SHORT) for rig in ("a", "b"))
    for name in (first, second):
        runs.ask("DELETE", f"/runs/{name}")
    assert runs.ask("POST", "/runs/deleted/empty", {"run": first}) == (200, {"removed": 1})
    assert [each["name"] for each in runs.ask("GET", "/runs/deleted")[1]] == [second]
    assert runs.ask("POST", "/runs/deleted/empty", {}) == (200, {"removed": 1})
    assert runs.ask("POST", f"/runs/{second}/undo")[0] == 404


@pytest.mark.parametrize("damage", ["gone", "empty", "rubbish", "file"])
def test_a_damaged_run_is_listed_with_what_is_wrong_and_hides_no_other(runs: Runs, damage: str) -> None:
    good, bad = whole(runs.library, rig="good"), recorded_run(runs.library, "bad", story=SHORT)
    segment = segment_of(runs.library, bad)
    if damage == "rubbish":
        segment.write_bytes(os.urandom(5000))
    else:
        segment.unlink()
    if damage in ("gone", "file"):
        shutil.rmtree(segment.parent)
    if damage == "file":
        segment.parent.write_text("no folder")
    _, told = runs.ask("GET", "/runs")
    by_name = {each["name"]: each for each in told}
    assert by_name[good]["trouble"] == ""
    expected = {"gone": "its folder is gone", "file": "its folder is gone", "empty": "its folder holds no recording"}
    assert by_name[bad]["trouble"] == expected.get(damage, "")
    assert runs.ask("GET", f"/runs/{bad}")[0] == 200
    if damage in expected:
        status, said = runs.ask("POST", "/plays", {"run": bad})
        assert (status, expected[damage] in said["detail"]) == (409, True)


def test_a_run_is_played_paused_moved_and_ended(runs: Runs) -> None:
    name = whole(runs.library)
    status, play = runs.ask("POST", "/plays", {"run": name, "utc_s": OPENED_UTC_S + 3.0})
    assert (status, play["rig"], play["run"]) == (201, name, name)
    assert runs.ask("PUT", f"/plays/{name}", {"paused": True, "pace": 0.1})[0] == 200
    patience = time.monotonic() + 5.0
    while (play := runs.ask("GET", "/plays")[1][0])["state"] != "paused" and time.monotonic() < patience:
        time.sleep(0.02)
    assert (play["state"], play["pace"]) == ("paused", 0.1)
    assert play["at_utc_s"] == pytest.approx(OPENED_UTC_S + 3.0, abs=0.2)
    assert runs.ask("POST", "/plays", {"run": name})[1]["at_utc_s"] == play["at_utc_s"]  # the same play, where it is
    for wrong in ({"pace": 0.0}, {"pace": 101}, {"utc_s": "now"}, {"speed": 1}):
        assert runs.ask("PUT", f"/plays/{name}", wrong)[0] == 422
    assert runs.ask("GET", f"/rigs/{name}/readings")[1]["readings"]["run_state"]["value"] == "running"
    assert runs.ask("GET", f"/rigs/{name}/events")[1][-1]["kind"] == "power_on"
    for method, path in (("GET", ""), ("PUT", ""), ("DELETE", ""), ("POST", "/run")):  # it has no settings and no run
        assert runs.ask(method, f"/rigs/{name}{path}", {"action": "end"} if path else {})[0] == 404
    assert runs.ask("DELETE", f"/plays/{name}") == (200, {"run": name})
    assert runs.ask("GET", "/plays")[1] == []
    assert runs.ask("DELETE", f"/plays/{name}")[0] == 404


def test_a_run_that_is_deleted_is_played_no_more_and_one_play_too_many_ends_the_oldest(runs: Runs) -> None:
    names = [recorded_run(runs.library, f"rig-{k}", story=SHORT) for k in range(PLAYS_MAX + 1)]
    for name in names:
        assert runs.ask("POST", "/plays", {"run": name})[0] == 201
    assert [play["run"] for play in runs.ask("GET", "/plays")[1]] == names[1:]
    assert runs.ask("DELETE", f"/runs/{names[1]}")[0] == 200
    assert [play["run"] for play in runs.ask("GET", "/plays")[1]] == names[2:]


def test_closed_runs_are_summed_up_by_themselves_and_what_cannot_be_is_said(runs: Runs) -> None:
    good, bad = recorded_run(runs.library, "good"), recorded_run(runs.library, "bad", story=SHORT)
    (runs.library.folder / bad / "digest.json").mkdir()  # where nothing can be written
    recorded = runs.service.rigs.recorded
    assert isinstance(recorded, Recorded)
    runs.service.server_loop.call_soon_threadsafe(recorded.start)
    patience = time.monotonic() + 30.0
    told: dict[str, Any] = {}
    shares = set[float | None]()
    while time.monotonic() < patience and not (told and told[good]["summed_up"] and told[bad]["trouble"]):
        time.sleep(0.02)
        told = {each["name"]: each for each in runs.ask("GET", "/runs")[1]}
        shares.add(told[good]["summing_up_share"])
    assert told[good]["motor"] == "test fan"
    assert any(share and 0.0 < share < 1.0 for share in shares), "how far it is"
    assert told[good]["summing_up_share"] is None
    assert "directory" in told[bad]["trouble"]


def test_a_run_is_played_with_todays_calibration_where_one_is_kept_and_refused_where_not(
    runs: Runs, tmp_path: Path
) -> None:
    name = recorded_run(runs.library, story=RUNNING, board=BOARD)
    runs.service.rigs.calibrations = CalibrationFiles(tmp_path / "calibration")
    runs.ask("POST", "/plays", {"run": name, "utc_s": OPENED_UTC_S + 3.0})
    status, said = runs.ask("PUT", f"/plays/{name}", {"paused": True, "calibration": "today"})
    assert (status, "No calibration of board T-1 is kept today" in said["detail"]) == (409, True)
    assert [runs.ask("GET", "/plays")[1][0][key] for key in ("calibration", "calibrated")] == ["then", False]
    runs.service.rigs.calibrations.keep("T-1", gained(1.05).entries[0])
    assert runs.ask("PUT", f"/plays/{name}", {"calibration": "today"})[0] == 200
    patience = time.monotonic() + 5.0
    while not (play := runs.ask("GET", "/plays")[1][0])["calibrated"] and time.monotonic() < patience:
        time.sleep(0.02)
    assert (play["calibration"], play["calibrated"]) == ("today", True)
    assert runs.ask("PUT", f"/plays/{name}", {"calibration": "yesterday"})[0] == 422
