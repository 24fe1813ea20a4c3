"""Test plans over HTTP and by the command: set, refused, judged over closed runs and the one that is recorded now."""

import asyncio
import json
import shutil
import time
from collections.abc import Iterator
from pathlib import Path
from typing import cast
from unittest.mock import AsyncMock

import httpx2
import pytest

from server.__main__ import main
from server.alarms.seen import PlanOutcome
from server.config import RigSettings
from server.keeping_evidence import KeepingEvidence
from server.planning import Planning
from server.recorded import Recorded
from server.rig import Rig
from server.rigs import Rigs
from server.runs.beside import DIGEST, SO_FAR, SoFar, keep_so_far, write_digest
from server.runs.library import RECEIVED, Library
from server.runs.recording import Recording
from server.runs.shelf import Shelf
from server.runs.sum_up import summed_up
from tests.server.duty.tiny_cycles import CYCLE, REST
from tests.server.runs.recordings import OPENED_UTC_S
from tests.server.tiny_board import TinyBoard
from tests.server.web.bench import BenchRig, Service
from tests.server.web.raw import TOKEN

PLAN = '[test]\nspecimen = "test fan"\nserial = "T-1"\ngoal_cycles = {}\n'
STORY = (REST, *CYCLE * 2)


@pytest.fixture(scope="module")
def library(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Library]:
    """Two closed runs of two cycles each; the older one is summed up."""
    made = Library(tmp_path_factory.mktemp("data") / "runs")
    for number in range(2):
        recording = Recording(RigSettings("heron-1"), made)
        recording.connected(OPENED_UTC_S + 1000.0 * number)
        recording.chunk(TinyBoard().wire(STORY), OPENED_UTC_S + 1000.0 * number + 9.0)
        recording.end_run(OPENED_UTC_S + 1000.0 * number + 10.0)
        recording.stop(OPENED_UTC_S + 1000.0 * number + 10.0)
    older = made.folder / made.runs()[-1].name
    write_digest(older, summed_up(older))
    yield made
    made.close()


@pytest.fixture
def client(service: Service, library: Library) -> Iterator[httpx2.Client]:
    """Asks a service that knows these runs and has no plan."""
    service.rigs.rigs = {"heron-1": BenchRig("heron-1")}
    service.rigs.recorded = Recorded(library, time.time, lambda: cast(list[Rig], list(service.rigs)))
    for each in service.rigs.plans.file("heron-1").parent.glob("heron-1.*"):
        each.unlink()
    with service.client as asking:
        asking.headers["Slipring-Request"] = "1"
        yield asking
    asyncio.run_coroutine_threadsafe(service.rigs.recorded.stop(), service.server_loop).result(5)
    service.rigs.recorded = None


def test_a_plan_is_set_judged_over_the_runs_and_put_away(
    service: Service, client: httpx2.Client, library: Library, monkeypatch: pytest.MonkeyPatch
) -> None:
    path = "/api/rigs/heron-1/plan"
    assert client.get(path).json()["text"] is None
    assert client.get(f"{path}/judgement").status_code == 404
    told = client.put(path, json={"text": PLAN.format(4)}).json()
    assert told["tables"]["test"] == {"specimen": "test fan", "serial": "T-1", "goal_cycles": 4, "unknown_percent": 1.0}
    assert Path(told["file"]).read_text() == PLAN.format(4)

    judgement = client.get(f"{path}/judgement").json()
    assert (judgement["outcome"], judgement["cycles"]) == ("undecided", 2)
    assert judgement["reasons"] == ["2 of 4 cycles so far"]
    assert judgement["unknown"][0].endswith(": it is being summed up, and is read when that is done")
    assert judgement["left"]["cycles"] == 2
    assert judgement["left"]["seconds"] == pytest.approx(8.0, abs=0.1)
    assert isinstance(service.rigs.recorded, Recorded)
    planning, keep = planning_of(service), AsyncMock()
    monkeypatch.setattr(service.rigs.recorded.evidence, "keep", keep)
    assert outcome_of(service, planning).outcome == "undecided"
    client.put(path, json={"text": PLAN.format(2)})
    unread = outcome_of(service, planning)
    assert (unread.outcome, unread.waits) == ("unknown", True), "the other run is not read"
    assert outcome_of(service, planning) == unread
    assert keep.await_count == 2, "once for each that is told"
    service.rigs.recorded.summing_up.failed[library.runs()[0].name] = "the disk is full"
    said = f"the run {library.runs()[0].name}: it could not be summed up: the disk is full"
    assert outcome_of(service) == PlanOutcome("unknown", f"{said} (test fan, T-1)")
    client.put(path, json={"text": PLAN.format(4)})

    newest = library.folder / library.runs()[0].name
    write_digest(newest, summed_up(newest))
    judgement = client.get(f"{path}/judgement").json()
    assert (judgement["outcome"], judgement["cycles"], judgement["unknown"]) == ("pass", 4, [])
    copied = library.folder / f"{newest.name}-2"  # a run of a rig of that name on another PC, or this one as a copy
    shutil.copytree(newest, copied)
    (copied / RECEIVED).touch()
    library.look_again(copied.name)
    assert library.runs()[0].received
    assert client.get(f"{path}/judgement").json() == judgement
    assert len(Shelf(library).within("heron-1", 0.0, 1e11)) == 2

    client.put(path, json={"text": PLAN.format(2)})
    assert outcome_of(service).outcome == "pass"
    (newest / DIGEST).unlink()
    assert outcome_of(service).outcome == "pass", "what is unknown later takes nothing back"
    write_digest(newest, summed_up(newest))
    limited = {
        "test": {"specimen": "x", "goal_cycles": 4, "begins": "1970-01-01T00:00:00Z"},
        "cycles": {"inrush_peak_a": {"high": 2.0}},
    }
    assert client.put(path, json={"tables": limited}).status_code == 200
    judgement = client.get(f"{path}/judgement").json()
    assert judgement["outcome"] == "fail"
    assert judgement["failures"][0]["cycle"] == 1
    assert "above 2 A" in judgement["failures"][0]["text"]
    assert outcome_of(service) == PlanOutcome("fail", f"{judgement['reasons'][0]} (x)"), "its alarm says the same"

    assert client.request("DELETE", path, json={}).json()["text"] is None
    assert client.request("DELETE", path, json={}).status_code == 404
    assert Path(told["file"] + ".previous").is_file()


def planning_of(service: Service) -> Planning:
    return Planning(cast(Rigs, service.rigs))  # the bench's, which have what is asked of them here


def outcome_of(service: Service, planning: Planning | None = None) -> PlanOutcome:
    """How the plan of heron-1 stands, for its alarms."""
    asked = (planning or planning_of(service)).tested(cast(Rig, service.rigs.rigs["heron-1"]))
    said = asyncio.run_coroutine_threadsafe(asked, service.server_loop).result(5)
    assert said is not None
    return said


def test_the_run_that_is_recorded_now_counts_as_far_as_it_has_come(
    service: Service, client: httpx2.Client, library: Library
) -> None:
    for run in library.runs():
        write_digest(library.folder / run.name, summed_up(library.folder / run.name))
    rig = service.rigs.rigs["heron-1"]
    rig.recording = Recording(RigSettings("heron-1"), library)
    rig.recording.connected(OPENED_UTC_S + 5000.0)
    rig.recording.chunk(TinyBoard().wire((REST, *CYCLE * 2)), OPENED_UTC_S + 5009.0)
    client.put("/api/rigs/heron-1/plan", json={"text": PLAN.format(4)})
    ends = time.monotonic() + 5.0
    while not rig.recording.run and time.monotonic() < ends:  # its folder is made in a thread
        time.sleep(0.01)
    name = rig.recording.run
    judgement = client.get("/api/rigs/heron-1/plan/judgement").json()
    assert judgement["cycles"] == 4 + 2
    told = client.get(f"/api/runs/{name}/cycles").json()
    assert [each["ended"] for each in told["cycles"]] == [True, False]
    assert told["cycles"][0]["figures"]["on_time_s"]["value"] == pytest.approx(2.0, abs=0.02)
    assert {each["key"] for each in told["kinds"]} == set(told["cycles"][0]["figures"])
    assert (told["cycles_whole"], told["drifts"], told["duty_type"]["name"]) == (1, [], "")
    assert "S3 to S5: 1 cycle is known whole, and 10 are asked for" in told["duty_type"]["missing"]
    (newest,) = client.get(f"/api/runs/{name}/cycles?newest=1").json()["cycles"]
    assert newest == told["cycles"][1]
    assert client.get(f"/api/runs/{name}/cycles?newest=0").status_code == 422
    assert (told["missing"], told["starts"]) == ([], 2), "as the plan counts: the one under way too"
    rig.recording.chunk(TinyBoard().wire((REST,)), OPENED_UTC_S + 5019.0)  # silent for 10 s, and no mark says why
    assert client.get("/api/rigs/heron-1/plan/judgement").json()["unknown_s"] == pytest.approx(10.0)
    assert outcome_of(service).outcome == "unknown"
    assert (library.folder / name / SO_FAR).is_file(), "what an alarm is told of a test outlives a kill"
    rig.recording.chunk(TinyBoard().wire((REST, *CYCLE)), OPENED_UTC_S + 5020.0)
    kept(service, library)
    rig.recording.stop(OPENED_UTC_S + 5020.0)
    rig.recording = None
    closed = client.get("/api/rigs/heron-1/plan/judgement").json()
    assert closed["cycles"] == 4 + 3, "what was seen of a run counts while it is summed up, also since the last look"
    assert f"the run {name}: it is being summed up, and is read when that is done" in closed["unknown"]
    rig.recording = Recording(RigSettings("heron-1"), library)  # the service is started anew
    rig.recording.chunk(TinyBoard().wire((REST, *CYCLE)), OPENED_UTC_S + 5109.0)
    while not rig.recording.run and time.monotonic() < ends:
        time.sleep(0.01)
    again = client.get("/api/rigs/heron-1/plan/judgement").json()
    assert (again["cycles"], again["unknown_s"]) == (4 + 4, pytest.approx(10.0))  # the bench's view knows of no gap
    assert again["watched_s"] - judgement["watched_s"] > 90.0, "the gap is a part of the run"
    assert client.get(f"/api/runs/{name}/cycles").json()["missing"] == []
    rig.recording.stop(OPENED_UTC_S + 5110.0)
    killed = Recording(RigSettings("heron-1"), library)  # as if that one had kept nothing before it ended
    assert killed.silent_s == pytest.approx(10.0 + 90.0, abs=1.5), "nobody knows what was in that part, so far"
    killed.stop(OPENED_UTC_S + 5110.0)
    keep_so_far(library.folder / name, SoFar({"duty": {"cycles": "many"}}, 1.0), is_open=True)
    rig.recording = Recording(RigSettings("heron-1"), library)  # and nothing that fits was kept by the one before
    rig.recording.chunk(TinyBoard().wire((REST, *CYCLE)), OPENED_UTC_S + 5209.0)
    while not rig.recording.run and time.monotonic() < ends:
        time.sleep(0.01)
    (missing,) = client.get(f"/api/runs/{name}/cycles").json()["missing"]
    assert missing == "Its part before the last start of the service is read when it is closed."
    rig.recording.stop(OPENED_UTC_S + 5210.0)


def kept(service: Service, library: Library) -> None:
    """What open runs have to say is kept, as the service does when it ends."""

    async def keep() -> None:
        rigs = cast(list[Rig], list(service.rigs))
        keeping = asyncio.create_task(KeepingEvidence(library.folder, lambda: rigs, {}).run())
        await asyncio.sleep(0)
        keeping.cancel()
        await asyncio.gather(keeping, return_exceptions=True)

    asyncio.run(keep())


@pytest.mark.parametrize(
    ("body", "words"),
    [
        ({"text": "[test]\ngoal_hours = 1"}, "heron-1.toml, line 1: it is not said what is tested"),
        ({"tables": {"test": {"specimen": "x", "goal_hours": True}}}, "this is not a number"),
        ({"tables": {"readings": {"current_rms_a": 5}}}, "is a value"),
        ({"tables": {"test": {"specimen": "x", "goal_hours": 1}, "odd": {}}}, '"odd" is not a key'),
        ({}, "send one of the two"),
        ({"text": "x", "other": 1}, "other"),
        ({"tables": {"test": {"specimen": "x", "goal_hours": 1}, "\ud800": {}}}, '"\\ud800" is not a key'),
        ('{"text": ', "the request: this is not JSON; "),
        ('{"tables": ' + 99_999 * "[", "the request: this is nested too deep, or a number in it is too long; "),
        ('{"tables": {"test": {"goal_cycles": ' + 9999 * "9" + "}}}", "or a number in it is too long; "),
    ],
)
def test_a_plan_that_cannot_be_used_is_refused_and_nothing_is_written(
    body: dict[str, object] | str, words: str, client: httpx2.Client
) -> None:
    typed = {"Content-Type": "application/json"}
    content = body if isinstance(body, str) else json.dumps(body)
    answer = client.put("/api/rigs/heron-1/plan", content=content, headers=typed)
    told = answer.json()["detail"]
    assert (answer.status_code, words in told) == (422, True), answer.text
    assert "tables" not in body or "line" not in told, "a form has no lines"
    assert client.get("/api/rigs/heron-1/plan").json()["text"] is None


def test_a_demo_rig_takes_no_plan(service: Service, client: httpx2.Client) -> None:
    service.rigs.rigs["heron-1"].demo = True
    answer = client.put("/api/rigs/heron-1/plan", json={"text": PLAN.format(4)})
    told = "heron-1 is a demo rig and keeps no test plan; add a rig for a board of your own."
    assert (answer.status_code, answer.json()["detail"]) == (422, told)
    assert not service.rigs.plans.is_there("heron-1")


def test_a_file_that_a_person_has_spoiled_is_told_with_its_line(service: Service, client: httpx2.Client) -> None:
    file = service.rigs.plans.file("heron-1")
    file.parent.mkdir(parents=True, exist_ok=True)
    spoiled = "[test]\ngoal_hours = 0\n"
    file.write_text(spoiled)
    path = "/api/rigs/heron-1/plan"
    told = client.get(path).json()
    assert (told["text"], told["tables"], told["file"]) == (spoiled, None, str(file))
    assert f"{file}, line 2: goal_hours = 0: this is not possible" in told["refused"]
    assert client.get(f"{path}/judgement").status_code == 422
    assert client.put(path, json={"tables": {"test": {"specimen": "fan", "goal_hours": 1.0}}}).json()["refused"] == ""
    assert Path(f"{file}.previous").read_text() == spoiled, "it is put away, not lost"
    file.write_bytes(b"\xff\xfe no text")
    told = client.get(path).json()
    assert (told["text"], str(file) in told["refused"]) == (None, True)
    gone = {"rig": "heron-1", "file": "", "text": None, "tables": None, "refused": "", "ended": ""}
    assert client.request("DELETE", path, json={}).json() == gone
    assert Path(f"{file}.previous").read_bytes() == b"\xff\xfe no text"


def test_the_command_sets_a_plan_and_says_how_the_test_stands(
    service: Service, client: httpx2.Client, tmp_path: Path, capfd: pytest.CaptureFixture[str]
) -> None:
    data = tmp_path / "data"
    (data / "secret").mkdir(0o700, parents=True)
    token = data / "secret" / "token"
    token.write_text(TOKEN)
    token.chmod(0o600)
    where = ["--port", str(service.port), "--data", str(data)]
    file = tmp_path / "fan.toml"
    file.write_text(PLAN.format(0))
    assert main(["plan", "heron-1", "--set", str(file), *where]) == 1
    assert f"{file}, line 4: goal_cycles = 0: this is not possible" in capfd.readouterr().err
    file.write_text(PLAN.format(3) + "[readings.current_rms_a]\nhigh = 0.4\n")
    assert main(["plan", "heron-1", "--set", str(file), *where]) == 0
    assert main(["plan", "heron-1", *where]) == 3
    said = capfd.readouterr().out.splitlines()
    assert said[0] == "fail: test fan, T-1, 3 cycles"
    assert "Current, RMS rose to 0.5 A, above 0.4 A" in said[1]
    assert not any("above 0.4 A in " in each for each in said)  # the reason, which the first limit that was passed says
    duty = next(each for each in said if each.startswith("  duty factor: 50")).replace("\u00a0", " ")
    value, _, off = duty.split()[-4:-1]
    assert len(value.partition(".")[2]) == len(off.partition(".")[2])
    assert main(["plan", "heron-1", "--json", *where]) == 3
    assert json.loads(capfd.readouterr().out)["outcome"] == "fail"
    assert main(["plan", "heron-1", "--remove", *where]) == 0
    assert main(["plan", "heron-1", *where]) == 1
    assert "has no test plan" in capfd.readouterr().err
