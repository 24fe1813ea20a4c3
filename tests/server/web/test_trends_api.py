"""Trends of recorded runs over HTTP: of one run, of all runs of a rig with a gap between them, of one without a log."""

import asyncio
import time
from collections.abc import Iterator
from typing import Any

import numpy as np
import pytest

from server.config import RigSettings
from server.recorded import Recorded
from server.runs.library import Library
from server.runs.log.live import Logging
from server.runs.log.store import LOG
from server.runs.recording import Recording
from tests.server.live.unpack import unpack
from tests.server.runs.recordings import LASTS_S, OPENED_UTC_S, recorded_run
from tests.server.web.bench import BenchRig, Service
from tests.server.web.raw import TOKEN

AUTHORIZED = {"Authorization": f"Bearer {TOKEN}"}
LATER_UTC_S = OPENED_UTC_S + 60.0


class Asked:
    """A script that asks, and the two runs of its rig."""

    def __init__(self, service: Service, library: Library) -> None:
        self.service, self.library = service, library
        self.names = [recorded_run(library, "heron-1", utc_s) for utc_s in (OPENED_UTC_S, LATER_UTC_S)]

    def get(self, path: str) -> tuple[int, Any]:
        with self.service.client as client:
            answer = client.get(f"/api{path}", headers=AUTHORIZED)
        packed = answer.headers["content-type"] == "application/octet-stream"
        return answer.status_code, unpack(answer.content) if packed else answer.json()


@pytest.fixture(scope="module")
def asked(service: Service, tmp_path_factory: pytest.TempPathFactory) -> Iterator[Asked]:
    library = Library(tmp_path_factory.mktemp("data") / "runs")
    service.rigs.rigs = {"heron-1": BenchRig("heron-1"), "heron-2": BenchRig("heron-2")}
    service.rigs.recorded = Recorded(library, time.time)
    yield Asked(service, library)
    stopping = asyncio.run_coroutine_threadsafe(service.rigs.recorded.stop(), service.server_loop)
    stopping.result(5)
    service.rigs.recorded = None
    library.close()


def test_a_run_is_drawn_from_end_to_end_with_its_states(asked: Asked) -> None:
    status, told = asked.get(f"/runs/{asked.names[0]}/trends?ids=current_rms_a&ids=speed_rpm")
    assert (status, told["kind"], told["run"]) == (200, "trends", asked.names[0])
    current = told["readings"]["current_rms_a"]
    assert told["columns"] == len(current["low"])
    assert told["columns"] == told["to_utc_s"] - told["from_utc_s"]  # whole seconds: none is shorter
    assert LASTS_S - 2 < told["columns"] < LASTS_S + 2
    assert np.nanmax(current["high"]) == pytest.approx(1.5, rel=0.02)  # 1.5 A while it starts and is held
    assert np.nanmin(told["readings"]["speed_rpm"]["low"]) == 0.0
    assert [word for _, word in told["states"]][:4] == ["unknown", "resting", "starting", "running"]
    assert {"current_peak_a", "run_state", "temperature_c.housing"} <= set(told["there"])
    (run,) = told["runs"]
    assert (run["run"], run["trouble"]) == (asked.names[0], "")
    assert OPENED_UTC_S < run["from_utc_s"] < run["to_utc_s"] < OPENED_UTC_S + LASTS_S + 1


def test_runs_of_a_rig_are_one_picture_with_a_gap_between_them(asked: Asked) -> None:
    span = f"from={OPENED_UTC_S - 20}&to={OPENED_UTC_S + 80}"  # whole seconds, each a column
    status, told = asked.get(f"/rigs/heron-1/trends?{span}&ids=current_rms_a&columns=100")
    assert (status, told["rig"], told["columns"]) == (200, "heron-1", 100)
    came = np.flatnonzero(~np.isnan(told["readings"]["current_rms_a"]["trusted"]))
    assert [each["run"] for each in told["runs"]] == asked.names
    assert came.tolist() == [*range(20, 30), *range(80, 90)]
    assert asked.get(f"/rigs/heron-2/trends?{span}")[1]["runs"] == []
    assert asked.get(f"/rigs/heron-1/trends?from=0&to={OPENED_UTC_S - 20}")[0] == 422  # 50 years
    assert asked.get(f"/rigs/heron-1/trends?from={OPENED_UTC_S - 90}&to={OPENED_UTC_S - 20}")[1]["runs"] == []


def test_a_log_that_is_lost_or_broken_is_told_and_the_others_are_drawn(asked: Asked) -> None:
    name = recorded_run(asked.library, "heron-2", OPENED_UTC_S, story=((1.0, 0.0, 0.0, 0.0),))
    path = asked.library.folder / name / LOG
    there = path.read_bytes()
    path.write_bytes(b"rubbish" * 1000)
    _, told = asked.get(f"/runs/{name}/trends?ids=current_rms_a")
    assert told["runs"][0]["trouble"] == f"the log of {name} is broken (file is not a database)"
    assert np.isnan(told["readings"]["current_rms_a"]["low"]).all()
    path.unlink()
    assert asked.get(f"/runs/{name}/trends")[1]["runs"][0]["trouble"] == f"{name} has no log yet"
    path.write_bytes(there)
    assert asked.get(f"/runs/{name}/trends")[1]["runs"][0]["trouble"] == ""


def test_why_the_log_of_a_run_has_stopped_is_told_while_it_is_recorded(
    asked: Asked, monkeypatch: pytest.MonkeyPatch
) -> None:
    recording = Recording(RigSettings("heron-1"), None)
    monkeypatch.setattr(Recording, "logging", Logging(asked.names[1], "only 5 MB are free on the disk"))
    monkeypatch.setattr(asked.service.rigs.rigs["heron-1"], "recording", recording)
    assert asked.get(f"/runs/{asked.names[1]}/trends")[1]["runs"][0]["trouble"] == "only 5 MB are free on the disk"
    assert asked.get(f"/runs/{asked.names[0]}/trends")[1]["runs"][0]["trouble"] == ""


@pytest.mark.parametrize(
    ("query", "status"),
    [
        ("/runs/no-such-run/trends", 404),
        ("/rigs/heron-9/trends?from=1&to=2", 404),
        ("/rigs/heron-1/trends?from=5&to=5", 422),
        ("/rigs/heron-1/trends?from=1&to=nan", 422),
        ("/rigs/heron-1/trends?from=1&to=2&columns=100000", 422),
        ("/rigs/heron-1/trends?from=1&to=2" + "&ids=x" * 65, 422),
        ("/rigs/heron-1/trends", 422),
    ],
)
def test_what_cannot_be_told_is_refused_in_words(asked: Asked, query: str, status: int) -> None:
    answer, said = asked.get(query)
    assert answer == status
    assert isinstance(said["detail"], str)
