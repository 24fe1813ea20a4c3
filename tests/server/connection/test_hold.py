"""Several windows must agree, what is told stays, and what a driven motor looks like overturns nothing that is sure."""

from cmath import rect
from math import radians

import numpy as np
import pytest

from server.connection import ConnectionCheck, Correctness, Finding
from server.connection.hold import AGREE
from server.motors import PERMANENT_SPLIT_CAPACITOR
from server.quantities import window_analysis
from server.quantities.analysis import Analysis
from server.readings import Reading
from tests.server.quantities.windows import current, voltage, waves, window
from tests.server.signals.slow import series

RUNNING, STARTING = ("running",) * 20, ("starting",) * 20
CHANNELS = [voltage(), current()]


def seen(lag_deg: float) -> Analysis:
    shapes = series({1: 230.0 + 0j}), series({1: rect(1.0, radians(-lag_deg))})
    a = window_analysis(window(CHANNELS, waves(50.0, *shapes)), PERMANENT_SPLIT_CAPACITOR)
    assert a is not None
    return a


RIGHT, TURNED, NEAR_NOTHING = seen(30.0), seen(210.0), seen(88.0)


def check() -> ConnectionCheck:
    return ConnectionCheck(PERMANENT_SPLIT_CAPACITOR, CHANNELS, ())


def arrow(of: ConnectionCheck) -> Finding:
    return next(each for each in of.findings if each.key == "arrow")


def test_a_finding_is_told_once_three_windows_agree() -> None:
    checked, verdicts = check(), []
    for _ in range(AGREE):
        checked.take(RIGHT, STARTING, [])
        verdicts.append(arrow(checked).verdict)
    assert verdicts == [Correctness.UNKNOWN, Correctness.UNKNOWN, Correctness.RIGHT]


def test_a_single_window_overturns_nothing() -> None:
    checked = check()
    for a in (*[RIGHT] * AGREE, TURNED, TURNED, RIGHT, TURNED):
        checked.take(a, STARTING, [])
    assert arrow(checked).verdict is Correctness.RIGHT


def test_windows_that_cannot_tell_do_not_count_and_what_was_told_stays() -> None:
    checked = check()
    for a in (TURNED, NEAR_NOTHING, TURNED, NEAR_NOTHING, TURNED, NEAR_NOTHING):
        checked.take(a, STARTING, [])
    assert arrow(checked).verdict is Correctness.WRONG
    checked.take(RIGHT, ("resting",) * 20, [])
    assert arrow(checked).verdict is Correctness.WRONG


def test_a_sensor_that_was_turned_back_is_right_after_the_next_start() -> None:
    checked = check()
    for a in (*[TURNED] * AGREE, *[RIGHT] * AGREE):
        checked.take(a, STARTING, [])
    assert arrow(checked).verdict is Correctness.RIGHT


def test_a_motor_that_runs_long_after_its_start_may_be_driven_and_is_not_called_wrong() -> None:
    checked = check()
    for _ in range(10):
        checked.take(TURNED, RUNNING, [])
    finding = arrow(checked)
    assert finding.verdict is Correctness.UNKNOWN
    assert finding.text.endswith("Either the motor gave power back, or the current sensor of line is turned round.")
    assert finding.change == "Start it from rest, or hold it still under current: then it can only take power."


@pytest.mark.parametrize(("slip", "verdict"), [(0.05, Correctness.WRONG), (-0.05, Correctness.UNKNOWN)])
def test_an_induction_motor_below_its_field_takes_power_and_above_it_gives_some(
    slip: float, verdict: Correctness
) -> None:
    checked = check()
    for _ in range(AGREE):
        checked.take(TURNED, RUNNING, [Reading("slip", slip)])
    assert arrow(checked).verdict is verdict


def test_a_start_after_coasting_is_no_start_from_rest() -> None:
    checked = check()
    checked.take(RIGHT, ("coasting",) * 20, [])
    for _ in range(AGREE):
        checked.take(TURNED, STARTING, [])
    assert arrow(checked).verdict is Correctness.UNKNOWN


def test_powers_alone_are_doubtful_and_only_while_it_is_wrong() -> None:
    checked = check()
    readings = [
        Reading("active_power_w", -200.0),
        Reading("current_rms_a", 1.0),
        Reading("active_power_w", 1.0, place="x"),
    ]
    assert checked.marked(readings) == readings
    for _ in range(AGREE):
        checked.take(TURNED, STARTING, [])
    reasons = [each.reason for each in checked.marked(readings)]
    assert reasons == ["the current of line seems turned round: power negative", "", ""]


def test_noise_alone_says_nothing() -> None:
    draw = np.random.default_rng(5)
    rows = [draw.normal(0.0, 1e-3, 4000), draw.normal(0.0, 1e-4, 4000)]
    a = window_analysis(window(CHANNELS, rows), PERMANENT_SPLIT_CAPACITOR)
    checked = check()
    for _ in range(AGREE):
        checked.take(a, RUNNING, [])
    assert arrow(checked).verdict is Correctness.UNKNOWN
    assert not [each for each in checked.findings if each.verdict is Correctness.WRONG]
