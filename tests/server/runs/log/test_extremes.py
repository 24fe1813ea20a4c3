"""What half cycles and rows of 10 ms know stands in lowest and highest beside the window's own value."""

import numpy as np
import pytest

from server.readings import Fast, Instant, Reading, absent, doubtful
from server.runs.log.extremes import stretch_at
from server.runs.log.packed import packed
from server.runs.log.summary import Stretch

AT_S = 12.4


def rows(**columns: list[float]) -> Fast:
    """Rows of one window; what is not given has no value."""
    count = len(next(iter(columns.values())))
    nothing = [np.nan] * count
    volts, amps, speeds = (np.array(columns.get(key, nothing)) for key in ("voltage_v", "current_a", "speed_rpm"))
    return Fast(np.array([AT_S - 0.01 * k for k in reversed(range(count))]), volts, amps, speeds)


def told(readings: list[Reading], *fast: Fast, far_line: tuple[str, ...] = ("speed_rpm", "current_mean_a")) -> Stretch:
    instant = Instant(0, 1, AT_S, 0.2, tuple(readings))
    found = stretch_at(instant, packed(readings, lambda text: 0), fast, far_line)
    assert found is not None
    return found


def band(its: Stretch, name: str) -> tuple[float, float, float]:
    k = its.ids.index(name)
    return its.low[k], its.mean[k], its.high[k]


def test_an_rms_goes_as_low_and_high_as_its_half_cycles_at_the_same_place() -> None:
    its = told(
        [
            Reading("current_rms_a", 2.0),
            Reading("current_rms_a", 3.0, place="start"),
            Reading("current_half_cycle_min_a", 1.5),
            Reading("current_half_cycle_max_a", 9.0),
            Reading("voltage_rms_v", 230.0),
            absent("voltage_half_cycle_min_v", "a gap"),
            absent("voltage_half_cycle_max_v", "a gap"),
        ]
    )
    assert band(its, "current_rms_a") == (1.5, 2.0, 9.0)
    assert band(its, "current_rms_a.start") == (3.0, 3.0, 3.0)
    assert band(its, "voltage_rms_v") == (230.0, 230.0, 230.0)


def test_speed_and_direct_current_go_as_far_as_their_rows_with_the_sign_of_the_reading() -> None:
    fast = rows(speed_rpm=[1490.0, np.nan, 1510.0], current_a=[1.0, 7.0, 2.0])
    readings = [Reading("speed_rpm", 1500.0), Reading("current_mean_a", -2.0), Reading("run_state", "running")]
    its = told(readings, fast)
    assert band(its, "speed_rpm") == (1490.0, 1500.0, 1510.0)
    assert band(its, "current_mean_a") == (-7.0, -2.0, -1.0)
    assert "run_state" not in its.ids


def test_rows_say_nothing_of_what_is_not_in_the_far_line_nor_in_doubt_nor_of_another_window() -> None:
    fast = rows(current_a=[1.0, 7.0], speed_rpm=[1.0, 7.0])
    assert band(told([Reading("current_mean_a", 2.0)], fast, far_line=("current_rms_a",)), "current_mean_a")[2] == 2.0
    doubted = doubtful(Reading("speed_rpm", 2.0), "an edge may be missing")
    its = told([doubted], fast)
    assert (band(its, "speed_rpm")[2], its.doubtful.tolist()) == (2.0, [1])
    later = Fast(fast.board_s + 0.2, fast.voltage_v, fast.current_a, fast.speed_rpm)
    assert band(told([Reading("speed_rpm", 2.0)], later), "speed_rpm")[2] == 2.0


@pytest.mark.parametrize("value", [float("nan"), float("inf")])
def test_what_is_no_number_counts_as_absent(value: float) -> None:
    its = told([Reading("speed_rpm", value)])
    assert (its.count.tolist(), its.absent.tolist()) == ([0], [1])
