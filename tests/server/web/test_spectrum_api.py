"""The spectrum over HTTP: what is predicted of this motor stands in it, and what there is not is said."""

import numpy as np
import pytest

from server.config import Plate
from server.live.records import Shown
from server.pipeline import Output
from server.readings import Instant, Reading
from tests.server.live.blocks import Sync, block, described, sines
from tests.server.web.bench import BenchRig, Service


@pytest.fixture
def bench(service: Service) -> Service:
    rig = BenchRig("pump")
    service.rigs.rigs = {"pump": rig, "empty": BenchRig("empty")}
    rig.view.motor = Shown("pump", "three_phase_induction", Plate(pole_pairs=2, rotor_slots=28), "board")
    values = sines(1.0)
    values[1] += 0.02 * np.sin(2 * np.pi * 629.0 * np.arange(20_000) / 20_000)
    rig.view.take(Output(described=described(), samples=(block(values),), frames=10), Sync())
    readings = (Reading("frequency_hz", 50.0), Reading("speed_rpm", 1455.0))
    rig.view.take(Output(instants=(Instant(0, 1_000_000, 1.0, 0.2, readings),)), Sync())
    return service


def test_the_slot_line_that_is_there_is_marked_and_the_one_that_is_not_is_not(bench: Service) -> None:
    with bench.client as client:
        answer = client.get("/api/rigs/pump/spectrum", params={"to_hz": 1000, "columns": 200}).json()
    assert answer["unit"] == "A"
    assert answer["reason"] == ""
    assert len(answer["rms"]) == 200
    assert answer["fundamental_rms"] == pytest.approx(0.7071, rel=0.04)
    marks = {mark["sign"]: mark for mark in answer["marks"]}
    assert marks["R n − f"]["hz"] == pytest.approx(629.0)
    assert marks["R n − f"]["rms"] == pytest.approx(0.01414, rel=0.04)
    assert marks["R n − f"]["stands_out"]
    assert not marks["R n + f"]["stands_out"]


def test_a_motor_that_starts_or_coasts_has_lines_nowhere_for_a_second(bench: Service) -> None:
    view = bench.rigs.rigs["pump"].view
    view.take(Output(instants=(Instant(0, 1_000_000, 1.0, 0.2, (Reading("run_state", "coasting"),)),)), Sync())
    with bench.client as client:
        answer = client.get("/api/rigs/pump/spectrum").json()
    assert answer["marks"] == []
    assert answer["rms"]


@pytest.mark.parametrize(
    ("path", "status", "words"),
    [
        ("/api/rigs/nobody/spectrum", 404, "There is no rig"),
        ("/api/rigs/pump/spectrum?to_hz=0", 422, "to_hz: "),
        ("/api/rigs/pump/spectrum?columns=100000", 422, "columns: "),
        ("/api/rigs/pump/spectrum?to_hz=nan", 422, "to_hz: "),
    ],
)
def test_what_cannot_be_answered_is_said(bench: Service, path: str, status: int, words: str) -> None:
    with bench.client as client:
        answer = client.get(path)
    assert answer.status_code == status
    assert words in answer.json()["detail"]


def test_a_rig_without_samples_has_none_and_says_why(bench: Service) -> None:
    with bench.client as client:
        answer = client.get("/api/rigs/empty/spectrum").json()
    assert "sampled fast enough" in answer["reason"]
    assert answer["rms"] == []


def test_lists_of_harmonics_are_told_when_asked_for_and_not_in_the_picture(bench: Service) -> None:
    view = bench.rigs.rigs["pump"].view
    lists = {"current_harmonics_a": (0.7, 0.01), "voltage_harmonics_v": (230.0, 0.5)}
    readings = tuple(Reading(key, value) for key, value in lists.items())
    now_utc_s = bench.rigs.utc_s()
    view.take(Output(instants=(Instant(0, 0, 0.0, 0.2, readings),)), Sync(now_utc_s))
    with bench.client as client:
        answer = client.get("/api/rigs/pump/harmonics").json()
    assert {key: its["value"] for key, its in answer["readings"].items()} == {k: list(v) for k, v in lists.items()}
    assert answer["limits_a"][:3] == [None, 1.08, 2.3]
    assert "information only" in answer["limits"]
    pictured = view.picture(now_utc_s)["readings"]
    assert isinstance(pictured, dict)
    assert "voltage_harmonics_v" not in pictured
    assert "current_harmonics_a" in pictured
