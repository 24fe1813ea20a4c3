"""What a run, or a span of a rig, came to over HTTP, with the account of its samples."""

import asyncio
import time
from collections.abc import Iterator
from types import SimpleNamespace
from typing import Any, cast

import pytest

from server.live.own_time import OwnTime
from server.live.records import Recording, RecordingState
from server.pipeline import Output
from server.readings import Instant, Reading
from server.recorded import Recorded
from server.runs.account_so_far import Counted
from server.runs.library import Library
from server.runs.log.live import Logging
from server.web.night_api import summed
from tests.server.live.blocks import Sync
from tests.server.runs.recordings import OPENED_UTC_S, recorded_run
from tests.server.web.bench import BenchRig, Service
from tests.server.web.raw import TOKEN

AUTHORIZED = {"Authorization": f"Bearer {TOKEN}"}
LINE = {
    "what": "samples",
    "number": 0,
    "channels": ["U", "I"],
    "promised": 100,
    "stored": 90,
    "missing": {"cable out": 10},
    "again": 0,
    "starts_anew": 0,
    "exact": True,
}


@pytest.fixture(scope="module")
def names(service: Service, tmp_path_factory: pytest.TempPathFactory) -> Iterator[list[str]]:
    library = Library(tmp_path_factory.mktemp("data") / "runs")
    service.rigs.rigs = {"heron-1": BenchRig("heron-1")}
    service.rigs.recorded = Recorded(library, time.time)
    resting = ((1.0, 0.0, 0.0, 0.0),)
    first = recorded_run(library, "heron-1")
    yield [first, recorded_run(library, "heron-1", OPENED_UTC_S + 60.0, story=resting)]
    asyncio.run_coroutine_threadsafe(service.rigs.recorded.stop(), service.server_loop).result(5)
    service.rigs.recorded = None
    library.close()


def get(service: Service, path: str) -> tuple[int, Any]:
    with service.client as client:
        answer = client.get(f"/api{path}", headers=AUTHORIZED)
    return answer.status_code, answer.json()


def test_a_run_is_answered_in_a_sentence_with_how_it_was_spent(service: Service, names: list[str]) -> None:
    status, told = get(service, f"/runs/{names[0]}/night")
    assert (status, told["answer"]) == (200, "It ran, but it stalled")
    assert told["counts"]["stalled"] == 1
    assert sum(told["spent"].values()) == pytest.approx(told["to_utc_s"] - told["from_utc_s"])
    assert told["spent"]["stalled"] == pytest.approx(1.3, abs=0.3)
    assert [each["run"] for each in told["runs"]] == names[:1]
    assert (told["account"], told["accounts"]) == ([], 0)  # it was not summed up
    assert told["energy_j"] > 0.0
    assert told["charge_c"] is None  # alternating current
    assert isinstance(service.rigs.recorded, Recorded)
    log = service.rigs.recorded.shelf.folder / names[0] / "log.sqlite"
    aside = log.rename(log.with_name("aside"))
    said = get(service, f"/runs/{names[0]}/night")[1]["answer"]
    aside.rename(log)
    assert said == f"It is not known whether it ran: {names[0]} has no log yet"


def test_a_span_of_a_rig_is_answered_over_all_its_runs(service: Service, names: list[str]) -> None:
    span = f"from={OPENED_UTC_S - 20}&to={OPENED_UTC_S + 90}"
    status, told = get(service, f"/rigs/heron-1/night?{span}")
    assert (status, told["counts"]["stalled"]) == (200, 1)
    assert told["answer"] == "It ran, but it stalled"
    assert [each["run"] for each in told["runs"]] == names
    assert [each["reason"] for each in told["gaps"]][:2] == ["no run was recorded", "run closed: ended by a person"]
    assert any("unknown: nothing was recorded" in each for each in told["unknown"])
    assert get(service, "/rigs/heron-9/night?from=1&to=2")[0] == 404
    assert get(service, "/runs/20260101-0000-no/night")[0] == 404
    assert get(service, "/rigs/heron-1/night?from=2&to=1")[0] == 422


def test_what_does_not_come_of_a_run_that_is_recorded_is_missing_up_to_now_as_far_as_its_log_knows(
    service: Service, names: list[str]
) -> None:
    assert isinstance(service.rigs.recorded, Recorded)
    library = Library(service.rigs.recorded.shelf.folder)
    name, now_utc_s = recorded_run(library, "heron-2", closed=False), OPENED_UTC_S + 100.0
    library.close()
    rig = service.rigs.rigs["heron-2"] = BenchRig("heron-2")
    rig.view.recorded = lambda: Recording(RecordingState.RECORDING, OPENED_UTC_S, run=name)
    rig.view.time = OwnTime(pace=0.0, ahead_s=now_utc_s)  # by the clock of its board, which may be a demo motor's
    its = SimpleNamespace(logging=Logging(), counted=lambda: Counted([LINE]), awaited="")
    rig.recording = cast(Any, its)
    for path in (f"/runs/{name}/night", f"/rigs/heron-2/night?from={OPENED_UTC_S}&to={now_utc_s + 5.0}"):
        its.logging = Logging()
        told = get(service, path)[1]
        assert (told["to_utc_s"], told["gaps"][-1]["to_utc_s"], told["accounts"]) == (now_utc_s, now_utc_s, 1)
        assert told["answer"].startswith("It ran, but nothing came after ")
        assert told["silent_since_utc_s"] == told["gaps"][-1]["from_utc_s"]
        its.logging = Logging(reason="the disk is full")
        told = get(service, path)[1]
        assert "nothing came" not in told["answer"]  # the log has stopped, and not the board
        assert told["silent_since_utc_s"] is None


def test_an_alarm_that_stands_from_before_is_a_part_of_what_reaches_to_now_and_of_nothing_else(
    service: Service, names: list[str]
) -> None:
    """Of a run that was left open as board and service were killed, too, while only the service is back."""
    assert isinstance(service.rigs.recorded, Recorded)
    library = Library(service.rigs.recorded.shelf.folder)
    older = recorded_run(library, "heron-3", OPENED_UTC_S - 900.0, closed=False)
    name = recorded_run(library, "heron-3", closed=False)
    library.close()
    rig = service.rigs.rigs["heron-3"] = BenchRig("heron-3")
    rig.view.time = OwnTime(pace=0.0, ahead_s=OPENED_UTC_S + 100.0)
    rig.recording = cast(Any, SimpleNamespace(logging=Logging(), counted=lambda: Counted([]), awaited=name))
    end_s = time.monotonic() + 5.0
    while not rig.view.followers and time.monotonic() < end_s:
        time.sleep(0.02)
    for k in range(6):
        instant = Instant(0, 0, 0.2 * k, 0.2, (Reading("run_state", "stalled"),))
        rig.view.take(Output(instants=(instant,), clock=Sync(OPENED_UTC_S - 60.0)), Sync())  # type: ignore[arg-type]  # as much of a clock as it asks
    span = f"/rigs/heron-3/night?from={OPENED_UTC_S}&to="
    for path in (f"/runs/{name}/night", f"{span}{OPENED_UTC_S + 110.0}"):
        told = get(service, path)[1]
        assert told["answer"].startswith("It ran, but nothing came after "), path
        assert told["answer"].endswith(", one alarm stands from before and it stalled"), path
        assert (told["next"], told["to_utc_s"]) == ("Switch off.", OPENED_UTC_S + 100.0)
        (alarm,) = told["alarms"]
        assert (alarm["kind"], alarm["name"], alarm["act"]) == ("raised", "stalled", "Switch off")
        assert alarm["id"] == f"heron-3-{alarm['number']}"
        assert alarm["at_utc_s"] < OPENED_UTC_S
    cast(Any, rig.recording).logging = Logging(reason="the disk is full")
    assert "one alarm stands from before" in get(service, f"/runs/{name}/night")[1]["answer"], "its log has stopped"
    for path in (f"/runs/{older}/night", f"{span}{OPENED_UTC_S + 60.0}"):  # over, as another began, and as asked for
        told = get(service, path)[1]
        assert ("alarm" in told["answer"], told["alarms"]) == (False, []), path


def test_accounts_of_several_runs_are_added_line_by_line() -> None:
    other = {**LINE, "channels": ["U"]}
    one, kept = summed([LINE, {**LINE, "missing": {"cable out": 1, "lost on the wire": 9}, "exact": False}, other])
    assert (one["promised"], one["stored"]) == (200, 180)
    assert one["missing"] == {"cable out": 11, "lost on the wire": 9}
    assert one["exact"] is False
    assert kept == other
    assert LINE["missing"] == {"cable out": 10}
