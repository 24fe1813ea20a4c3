"""Signs of life that open the next run."""

from dataclasses import replace

import numpy as np
import pytest

from server.config import Plate, RigSettings
from server.pipeline import Output, Pipeline
from server.readings import Fast
from server.runs.activity import levels, seen
from server.samples import EdgeTrain
from server.stream.describing import Description
from tests.server.tiny_board import TinyBoard


def described() -> Description:
    said = Pipeline(RigSettings("r")).push(b"".join(TinyBoard().frames()[:5]), 0.0).described
    assert said is not None
    return said


def fast(volts: float, amps: float) -> Output:
    row = np.array([1.0])
    return Output(fast=(Fast(row, row * volts, row * amps, row * np.nan),))


ACTIVITY = levels(described(), Plate(voltage_v=230.0, current_a=0.5))


def test_levels_come_from_the_plate_and_from_the_ranges_where_there_is_none() -> None:
    assert ACTIVITY.current_a == pytest.approx(0.025)
    assert ACTIVITY.voltage_v == pytest.approx(11.5)
    blind = levels(described(), Plate())
    assert blind.current_a == pytest.approx(0.01 * 6.4 + 5 * 2e-4)
    assert blind.voltage_v == pytest.approx(0.01 * 640 + 5 * 0.02)


@pytest.mark.parametrize(
    ("output", "alive"),
    [
        (fast(0.0, 0.024), False),
        (fast(0.0, 0.026), True),
        (fast(float("nan"), float("nan")), False),
        (Output(), False),
        (Output(edges=EdgeTrain((), 1e6, 0, np.array([5]), np.array([1], np.uint8), 0, 5)), True),
        (Output(edges=EdgeTrain((), 1e6, 0, np.zeros(0, np.int64), np.zeros(0, np.uint8), 0, 5)), False),
    ],
)
def test_a_current_or_an_edge_is_a_sign(output: Output, alive: bool) -> None:
    assert seen(ACTIVITY, output)[1] is alive


def test_a_steady_voltage_is_none_and_a_step_of_it_is() -> None:
    activity, alive = seen(ACTIVITY, fast(230.0, 0.0))
    assert not alive
    activity, alive = seen(activity, fast(225.0, 0.0))
    assert not alive
    assert seen(activity, fast(0.0, 0.0))[1]
    assert seen(replace(activity, first_v=0.0), fast(230.0, 0.0))[1]
