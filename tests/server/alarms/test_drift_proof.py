"""The small twins of the proofs of drifts."""

from dataclasses import replace
from itertools import islice
from pathlib import Path

import numpy as np
import pytest

from server.alarms.watched import BRUSHED
from tests.proofs.drift import main
from tests.proofs.drift_night import outputs
from tests.server.alarms.aged_motors import ALL, R, pump


def test_the_proof_counts_few_nights_and_goes_on_where_it_was_stopped(
    tmp_path: Path, capsys: pytest.CaptureFixture[str]
) -> None:
    few = [replace(its, stationary=its.stationary[1:2], shifts=its.shifts[1:2], aged=its.aged[:1]) for its in ALL]
    assert main(tmp_path, 1, 1, 1, few) == 0
    before = capsys.readouterr().out
    assert before.count("false alarms a night 0.0000 of scatter, 0.0000 of shifts; found in 1.000") == len(ALL) == 6
    assert main(tmp_path, 1, 1, 1, few) == 0
    assert capsys.readouterr().out == before


def test_the_readings_of_a_played_night_are_those_that_wear_is_told_by() -> None:
    first = islice(outputs("2.2 % of the speed", 3, 1), 14)
    instants = [each for _, output in first for each in output.instants]
    last = {each.id: each for each in instants[-1].readings}
    assert last["run_state"].value == "running"
    # A running motor has these three as numbers; a reading may hold a text or a list as well.
    numbers = {key: float(last[key].value) for key in ("speed_rpm", "current_mean_a", "voltage_mean_v")}  # type: ignore[arg-type]
    w, amps = pump(np.array([numbers["voltage_mean_v"]]), np.ones(1), np.array([R]))
    speed, current = (figure.of(numbers) for figure in BRUSHED)
    assert speed == pytest.approx(w[0] * 30.0 / np.pi / numbers["voltage_mean_v"], rel=0.02)
    assert current == pytest.approx(amps[0] / numbers["voltage_mean_v"], rel=0.03)
