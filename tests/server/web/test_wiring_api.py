"""The wiring over HTTP: judged while it is turned, walked through step by step, kept with its run as a page."""

import asyncio
import re
import time
from collections.abc import Iterator
from concurrent.futures import ThreadPoolExecutor
from functools import partial
from html.parser import HTMLParser
from pathlib import Path
from typing import Any

import pytest

from server.config import RigSettings, Wires
from server.live.records import Playing, Recording, RecordingState, Shown
from server.live.view import View
from server.pipeline import Pipeline
from server.recorded import Recorded
from server.runs.checks import CHECK, CHECKS_MAX, read_check
from server.runs.library import Library
from tests.server.pipelines import wire
from tests.server.runs.recordings import recorded_run
from tests.server.turned_board import messages
from tests.server.web.bench import Service, running
from tests.server.web.raw import TOKEN
from tests.server.wiring.turned import Hand

AUTHORIZED = {"Authorization": f"Bearer {TOKEN}", "Slipring-Request": "1"}
EXCHANGED = Hand(halls=(0, 2, 1), turns=4.0)
RIGHT = Hand(turns=4.0)
NAMES = {"halls": ["blue", "green", "white"], "phases": ["red", "black", "yellow"]}


@pytest.fixture(scope="module")
def bench(page: Path) -> Iterator[Service]:
    with running(page, "thruster", "empty") as started:
        yield started


class Rig:
    """A rig whose shaft the test turns, and the API as a page asks it."""

    def __init__(self, service: Service, folder: Path) -> None:
        self.service, self.folder = service, folder
        self.view, self._pipeline, self._sent = View("thruster"), Pipeline(RigSettings("thruster")), 0
        service.rigs.rigs["thruster"].view = self.view

    def put(self, *hands: Hand, still_s: float = 2.0, stuck_low: int = 0) -> None:
        """The board begins to send, with these strokes, once the Wiring screen is open; `stuck_low`: bits."""
        self.look()
        data = wire(messages(*hands, still_s=still_s, stuck_low=stuck_low))
        self.service.on_loop(lambda: self._push(data))

    def _push(self, data: bytes) -> None:
        for at in range(0, len(data), 3000):
            for part in self._pipeline.push(data[at : at + 3000], 0.0).parts:
                motor = self._pipeline.motor
                self.view.motor = Shown(motor.name, motor.type, motor.plate, "board")
                self.view.take(part, part.clock)

    def look(self) -> Any:
        return self.ask("GET", "/api/rigs/thruster/wiring")

    def act(self, **told: Any) -> Any:
        return self.ask("POST", "/api/rigs/thruster/check", told)["check"]

    def ask(self, method: str, path: str, body: object = None, status: int = 200) -> Any:
        with self.service.client as client:
            answer = client.request(method, path, json=None if method == "GET" else body or {}, headers=AUTHORIZED)
        assert answer.status_code == status, answer.text
        return answer.json() if "json" in answer.headers["content-type"] else answer


@pytest.fixture
def rig(bench: Service, tmp_path: Path) -> Rig:
    return Rig(bench, tmp_path)


def test_a_wrong_wiring_is_told_with_both_ways_to_mend_it_and_what_is_drawn(rig: Rig) -> None:
    assert rig.look()["far"] is None
    rig.put(EXCHANGED)
    told = rig.look()
    assert told["far"]["word"] == "Would not turn as it is wired"
    assert told["far"]["below"] == "exchange the phase plugs U and W, or exchange the Hall wires B and C"
    assert [fit["words"] for fit in told["fits"] if fit["best"]] == ["exchange U, W"]
    halls = {hall["name"]: hall for hall in told["timing"]["halls"]}
    assert [halls[name]["late_deg"] for name in "ABC"] == pytest.approx([0.0, 120.0, -120.0], abs=2.0)
    assert told["timing"]["found"] == [3, 1, 5, 4, 6, 2]  # bits B and C of the right ones exchanged
    assert told["timing"]["right"] == [5, 1, 3, 2, 6, 4]
    assert [mend["cables"][0]["to"] for mend in told["mends"]] == [[2, 1, 0], [0, 2, 1]]


def test_a_line_that_never_changes_is_named_from_across_the_room_and_drawn_flat(rig: Rig) -> None:
    rig.put(Hand(turns=6.0), stuck_low=2)
    told = rig.look()
    assert told["far"]["word"] == "B stays low"
    halls = {hall["name"]: hall for hall in told["timing"]["halls"]}
    assert halls["B"]["words"][0] == "never changes"
    assert (halls["B"]["edges"], halls["B"]["high"]) == ([], 0)
    assert halls["A"]["late_deg"] == pytest.approx(0.0, abs=2.0)
    # Own table of a sensor B that stays low: from sector 1 on 5 1 1 0 4 4.
    assert told["timing"]["found"] == [5, 1, 1, 0, 4, 4]


def test_wires_that_were_moved_while_it_stood_are_judged_anew_by_themselves(rig: Rig) -> None:
    rig.put(EXCHANGED, RIGHT, still_s=4.0)
    assert rig.look()["far"]["word"] == "Would run as it is wired"


def test_a_person_may_have_it_judged_anew(rig: Rig) -> None:
    rig.put(EXCHANGED)
    assert rig.ask("POST", "/api/rigs/thruster/wiring/anew")["timing"] is None


def test_the_check_is_the_same_for_all_viewers_and_advances_by_itself(rig: Rig) -> None:
    assert rig.act(act="begin")["key"] == "plate"
    assert rig.act(act="answer", answers=NAMES)["key"] == "supply"
    assert rig.act(act="skip", at="plate")["key"] == "supply"  # it was pressed for the step before
    assert not rig.look()["check"]["agreed"]
    assert rig.act(act="short", at="supply")["short"]
    assert rig.act(act="agree")["agreed"]
    rig.put(Hand(halls=(0, 2, 1), turns=14.0), Hand(halls=(0, 2, 1), turns=14.0, direction=-1), still_s=0.4)
    assert "the shaft at rest" in rig.look()["check"]["missing"]


def test_names_of_wires_go_into_the_sentences(rig: Rig) -> None:
    rig.put(EXCHANGED)
    told = rig.ask("PUT", "/api/rigs/thruster/wiring/names", NAMES)
    assert "U (red) and W (yellow)" in told["far"]["below"]
    assert told["mends"][0]["cables"][0]["names"] == NAMES["phases"]


def test_names_of_wires_go_into_the_settings_and_move_with_the_plugs(rig: Rig) -> None:
    its = rig.service.rigs.rigs["thruster"]
    told = rig.ask("PUT", "/api/rigs/thruster/wiring/names", NAMES)
    assert told["names"] == {**NAMES, "not_kept": ""}
    assert its.settings.wires == Wires("blue", "green", "white", "red", "black", "yellow")
    rig.act(act="begin")
    rig.act(act="answer", answers={**NAMES, "halls": ["blue", "green", "grey"]})
    assert its.settings.wires.hall_c == "grey"
    its.refusal = "bench.toml, line 3: this is not TOML; write lines"
    said = rig.ask("PUT", "/api/rigs/thruster/wiring/names", NAMES)["names"]
    assert said["halls"] == NAMES["halls"]
    assert said["not_kept"].startswith("Not kept in the settings: the settings file is not used (bench.toml, line 3")
    assert its.settings.wires.hall_c == "grey"
    its.refusal = ""


@pytest.mark.parametrize("name", ["red\nblue", "r" * 41, "\u2028", "\u200b", "bl\u00adue"])
def test_a_name_that_no_line_can_show_is_refused(rig: Rig, name: str) -> None:
    rig.ask("PUT", "/api/rigs/thruster/wiring/names", {**NAMES, "halls": [name, "b", "c"]}, status=422)


def test_half_a_letter_is_no_name_and_the_wiring_is_still_answered(rig: Rig) -> None:
    """JSON can say it; no answer could."""
    rig.put(RIGHT)
    body = b'{"halls": ["\\ud800", "b", "c"], "phases": ["u", "v", "w"]}'
    headers = {**AUTHORIZED, "Content-Type": "application/json"}
    with rig.service.client as client:
        assert client.put("/api/rigs/thruster/wiring/names", content=body, headers=headers).status_code == 422
    assert rig.look()["far"]["word"] == "Would run as it is wired"


def test_a_board_without_three_hall_inputs_is_said_to_have_none(rig: Rig) -> None:
    assert rig.ask("GET", "/api/rigs/empty/wiring")["halls"] is False


class _Text(HTMLParser):
    """Words of a page, and what it asks of others."""

    def __init__(self) -> None:
        super().__init__()
        self.words: list[str] = []
        self.asked: list[str] = []

    def handle_data(self, data: str) -> None:
        self.words.append(data)

    def handle_starttag(self, tag: str, attrs: list[tuple[str, str | None]]) -> None:
        self.asked += [f"{tag} {name}" for name, _ in attrs if name in ("src", "href", "style") or name[:2] == "on"]
        self.asked += [tag] if tag in ("script", "link", "img", "iframe", "object", "form") else []


@pytest.fixture
def kept(rig: Rig) -> Iterator[Rig]:
    """The same, while a run is recorded."""
    library = Library(rig.folder / "runs")
    name = recorded_run(library)
    rig.service.rigs.library, rig.service.rigs.recorded = library, Recorded(library, time.time)
    rig.view.recorded = lambda: Recording(RecordingState.RECORDING, run=name)
    rig.folder = library.folder / name
    yield rig
    assert isinstance(rig.service.rigs.recorded, Recorded)
    stopping = asyncio.run_coroutine_threadsafe(rig.service.rigs.recorded.stop(), rig.service.server_loop)
    stopping.result(5)
    rig.service.rigs.library = rig.service.rigs.recorded = None
    library.close()


def test_what_was_found_is_kept_with_the_run_and_opens_as_a_page_that_needs_nothing_else(kept: Rig) -> None:
    kept.put(EXCHANGED)
    kept.ask("PUT", "/api/rigs/thruster/wiring/names", {**NAMES, "halls": ["<b>", "a&b", "white"]})
    number = kept.ask("POST", "/api/rigs/thruster/check/keep")["number"]
    assert number == 1
    listed = kept.ask("GET", f"/api/runs/{kept.folder.name}/checks")
    assert [each["word"] for each in listed] == ["Would not turn as it is wired"]
    answer = kept.ask("GET", f"/api/runs/{kept.folder.name}/checks/1")
    page = _Text()
    page.feed(answer.text)
    words = " ".join(page.words)
    for said in ("Would not turn", "Exchange the phase plugs U (red) and W (yellow).", "T-7", "7 pole pairs", "A <b>"):
        assert said in words, said
    assert "Slipring watches, it does not protect." in words
    assert page.asked == []
    policy = answer.headers["content-security-policy"]
    assert "script-src" not in policy
    assert "default-src 'none'" in policy
    kept.ask("GET", f"/api/runs/{kept.folder.name}/checks/2", status=404)


def test_without_a_run_or_anything_turned_nothing_is_kept_and_it_says_why(kept: Rig) -> None:
    said = kept.ask("POST", "/api/rigs/thruster/check/keep", status=409)["detail"]
    assert said == "Nothing is kept: nothing was turned or checked yet."
    kept.view.recorded = Recording
    kept.put(RIGHT)
    said = kept.ask("POST", "/api/rigs/thruster/check/keep", status=409)["detail"]
    assert said == "Nothing is kept: no run is being recorded that it could be kept with."


def test_what_a_played_run_shows_is_kept_with_that_run(kept: Rig) -> None:
    kept.view.recorded = Recording
    kept.view.playing = Playing(kept.folder.name, "thruster", 0.0, 10.0)
    kept.put(EXCHANGED)
    assert kept.ask("POST", "/api/rigs/thruster/check/keep") == {"run": kept.folder.name, "number": 1}


@pytest.mark.parametrize(
    "changed",
    ["{}", '{"timing": {"volts": 3}, "verdicts": [1, null], "mends": "no", "check": []}', "[", '{"kept_utc_s": 1e300}'],
)
def test_a_kept_check_that_somebody_changed_is_no_trouble(kept: Rig, changed: str) -> None:
    (kept.folder / CHECK.format(1)).write_text(changed)
    status = 200 if changed[0] == "{" else 404
    answer = kept.ask("GET", f"/api/runs/{kept.folder.name}/checks/1", status=status)
    assert status == 404 or re.search("</html>$", answer.text)
    kept.ask("GET", f"/api/runs/{kept.folder.name}/checks")


def test_a_kept_check_is_deleted_and_brought_back(kept: Rig) -> None:
    kept.put(EXCHANGED)
    kept.ask("POST", "/api/rigs/thruster/check/keep")
    checks = f"/api/runs/{kept.folder.name}/checks"
    before = kept.ask("GET", checks)
    kept.ask("DELETE", f"{checks}/1")
    assert kept.ask("GET", checks) == []
    kept.ask("GET", f"{checks}/1", status=404)
    (deleted,) = kept.ask("GET", f"{checks}/deleted")
    assert (deleted["number"], deleted["word"]) == (1, before[0]["word"])
    assert deleted["removed_utc_s"] - deleted["deleted_utc_s"] == 30 * 86_400
    kept.ask("POST", f"{checks}/1/undo")
    assert (kept.ask("GET", checks), kept.ask("GET", f"{checks}/deleted")) == (before, [])
    for method, path in (("DELETE", f"{checks}/7"), ("POST", f"{checks}/1/undo"), ("DELETE", "/api/runs/no/checks/1")):
        kept.ask(method, path, status=404)


def test_a_run_is_not_filled_with_checks_that_are_kept_all_at_once(kept: Rig) -> None:
    kept.put(RIGHT)
    with kept.service.client as client, ThreadPoolExecutor(12) as pool:
        keep = partial(client.post, "/api/rigs/thruster/check/keep", json={}, headers=AUTHORIZED)
        answers = list(pool.map(lambda _: keep(), range(60)))
    assert sorted(answer.status_code for answer in answers) == [200] + 59 * [429]
    (said,) = {answer.json()["detail"] for answer in answers if answer.status_code == 429}
    assert said == "Nothing is kept: a check of this rig was kept just now; wait 5 s."
    assert len(kept.ask("GET", f"/api/runs/{kept.folder.name}/checks")) == 1


def test_a_run_that_holds_as_many_checks_as_may_be_says_what_to_do(kept: Rig) -> None:
    for number in range(1, CHECKS_MAX + 1):
        (kept.folder / CHECK.format(number)).write_text("{}")
    kept.put(RIGHT)
    said = kept.ask("POST", "/api/rigs/thruster/check/keep", status=409)["detail"]
    what = "50 checks are kept with this run already; delete one of them on the page of the run first."
    assert said == f"Nothing is kept: {what}"
    kept.ask("DELETE", f"/api/runs/{kept.folder.name}/checks/50")
    assert kept.ask("POST", "/api/rigs/thruster/check/keep")["number"] == 51
    kept.ask("POST", f"/api/runs/{kept.folder.name}/checks/50/undo", status=409)
    assert read_check(kept.folder, 51) is not None
