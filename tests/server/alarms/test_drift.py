"""Drift: found where there is wear, not where there is scatter; what it is looked for in."""

import numpy as np
import pytest

from server.alarms.coasting import Coast, coasted
from server.alarms.drift import BLOCKS_MIN, drifted, trend
from server.alarms.notice import Told
from server.alarms.series import Series, taken, with_one
from server.alarms.watched import BRUSHED, CAPACITANCE, COASTING, alone
from server.config import AlarmSettings
from server.readings import Fast, Reading, StateChange
from tests.server.alarms.nights import EMPTYING, STATIONARY, WORN, Kind, found_after_s, steady, windows
from tests.server.alarms.scenes import Bench, only

HOURS = 3600.0


@pytest.mark.parametrize("kind", WORN, ids=lambda kind: kind.name)
def test_the_wear_of_a_night_is_found_in_the_night(kind: Kind) -> None:
    night = list(windows(kind, np.random.default_rng(3)))
    found_s = found_after_s(night, BRUSHED, 1.0)
    assert found_s is not None
    assert found_s > 5.0 * HOURS, "an hour to get warm, four to know the scatter"


@pytest.mark.parametrize("kind", [*STATIONARY, EMPTYING], ids=lambda kind: kind.name)
def test_scatter_that_stays_and_a_battery_that_empties_are_no_wear(kind: Kind) -> None:
    assert found_after_s(list(windows(kind, np.random.default_rng(4))), BRUSHED, 0.0) is None


def test_the_pump_of_these_nights_is_the_one_of_the_bench() -> None:
    one = np.ones(1)
    rpm, amps = steady(12.0 * one, one, 0.0 * one)
    assert rpm[0] == pytest.approx(3571.0, rel=0.005), "an integrated run of the equations, with the ripple of the bars"
    assert amps[0] == pytest.approx(4.085, rel=0.01)


def test_a_line_through_independent_scatter_has_the_error_of_least_squares() -> None:
    rng = np.random.default_rng(5)
    t = 600.0 * np.arange(100, dtype=np.float64)
    errors = [found.errors for _ in range(400) if (found := trend(t, 10.0 + rng.standard_normal(100))) is not None]
    assert np.std(errors) == pytest.approx(0.85, abs=0.12), "below 1: memory is taken longer than found"


def test_scatter_with_a_memory_is_worth_fewer_blocks() -> None:
    rng = np.random.default_rng(6)
    t, plain, slow = 600.0 * np.arange(120, dtype=np.float64), [], []
    for _ in range(200):
        walk = np.zeros(120)
        for k, each in enumerate(rng.standard_normal(120)):
            walk[k] = 0.7 * walk[k - 1] + each
        found = trend(t, 100.0 + walk)
        assert found is not None
        slow.append(found.errors)
        plain.append(found.errors * np.sqrt((1.0 + found.memory) / (1.0 - found.memory)))
    assert np.std(plain) > 2.0, "as if blocks were independent it would cry wolf"
    assert np.std(slow) < 1.3


def test_too_few_blocks_and_a_reading_that_stands_say_nothing() -> None:
    t = 600.0 * np.arange(BLOCKS_MIN, dtype=np.float64)
    assert trend(t[1:], np.linspace(1.0, 2.0, BLOCKS_MIN - 1)) is None
    assert trend(t, np.full(BLOCKS_MIN, 3.0)) is None
    assert trend(t, np.zeros(BLOCKS_MIN)) is None


def test_a_drift_has_a_side_and_a_least_size() -> None:
    rng = np.random.default_rng(7)
    found = trend(600.0 * np.arange(50, dtype=np.float64), np.linspace(100.0, 95.0, 50) + 0.1 * rng.standard_normal(50))
    assert found is not None
    assert found.percent == pytest.approx(-5.1, abs=0.1)
    assert drifted(found, -1, 1.0)
    assert drifted(found, 0, 1.0)
    assert not drifted(found, 1, 1.0)
    assert not drifted(found, -1, 6.0)


def test_the_warm_up_and_what_comes_after_a_long_rest_is_left_out() -> None:
    series = Series()
    for k in range(0, 3 * 3600, 10):
        series = taken(series, (alone("x"),), {"x": 1.0}, True, float(k), 1.0)
    assert series.blocks[0].begin_s == 3600.0
    for k in range(5 * 3600, 6 * 3600, 10):  # cold again
        series = taken(series, (alone("x"),), {"x": 1.0}, True, float(k), 1.0)
    assert len(series.blocks) == 12, "two hours before the rest, none of the hour after it"


def test_a_block_with_hardly_anything_in_it_is_left_out() -> None:
    series = Series(warming_s=0.0, ran_s=3600.0)
    for k in range(3600, 3600 + 1800, 300):
        series = taken(series, (alone("x"),), {"x": 1.0}, True, float(k), 1.0)
    assert series.blocks == ()


def test_capacitance_is_current_over_2_pi_f_voltage() -> None:
    numbers = {
        "current_fundamental_a.auxiliary": 0.3741,
        "voltage_fundamental_v.capacitor": 297.7,
        "frequency_hz": 50.0,
    }
    assert CAPACITANCE[0].of(numbers) == pytest.approx(4.00, abs=0.005)
    assert CAPACITANCE[0].of({**numbers, "frequency_hz": 0.0}) is None


def rows(begin_s: float, rpm: list[float], *changes: StateChange) -> Fast:
    count = len(rpm)
    t = begin_s + 0.01 * np.arange(1.0, count + 1.0)
    return Fast(t, np.zeros(count), np.zeros(count), np.array(rpm), changes)


def test_a_coast_down_is_timed_to_half_the_speed_at_which_it_ran() -> None:
    coast, took = coasted(Coast(), rows(0.0, [1500.0] * 20, StateChange(0.0, 0.1, "running")))
    assert took is None
    coast, took = coasted(coast, rows(0.2, [1490.0] * 20, StateChange(0.25, 0.35, "coasting")))
    assert took is None
    slowing = np.linspace(1400.0, 400.0, 101).tolist()
    coast, took = coasted(coast, rows(0.4, slowing))
    assert took == pytest.approx(0.4 + 0.01 * 66 - 0.25)
    assert coasted(coast, rows(2.0, [100.0] * 20))[1] is None


def test_a_motor_that_is_switched_on_while_it_coasts_is_not_timed() -> None:
    coast, _ = coasted(Coast(), rows(0.0, [1500.0] * 20, StateChange(0.0, 0.1, "running")))
    coast, _ = coasted(coast, rows(0.2, [1490.0] * 20, StateChange(0.25, 0.35, "coasting")))
    coast, _ = coasted(coast, rows(0.4, [1400.0] * 20, StateChange(0.45, 0.5, "starting")))
    assert coasted(coast, rows(0.6, [600.0] * 20))[1] is None


def test_a_bearing_that_gets_stiff_is_found_by_its_coast_downs() -> None:
    rng = np.random.default_rng(8)
    series, found = Series(warming_s=0.0, ran_s=HOURS), None
    for k in range(60):
        series = with_one(series, COASTING, 8.0 - 0.04 * k + 0.1 * rng.standard_normal(), HOURS + 900.0 * k, 10.0)
        found = k if series.drift and found is None else found
    assert found is not None


def test_a_drift_is_told_once_and_learned_anew_when_it_was_acknowledged() -> None:
    bench = Bench(only(AlarmSettings("slips", "caution", "Look at the belt", drift="speed_rpm")))
    rng, hour = np.random.default_rng(9), 0.0
    while hour < 9.0:
        hour = (bench.now_s - 100.0) / HOURS
        bench.now_s, bench.board_s = bench.now_s + 9.8, bench.board_s + 9.8
        rpm = 3000.0 * (1.0 - 0.004 * hour + 0.001 * rng.standard_normal())
        bench.see(Reading("speed_rpm", float(rpm)), Reading("run_state", "running"))
    assert bench.told == [Told.RAISED]
    life = bench.life("slips")
    assert life is not None
    assert life.why.startswith("Drifted in ")
    assert "speed rpm \u2212" in life.why
    bench.act("acknowledge", "slips")
    assert bench.told == [Told.RAISED, Told.ACKNOWLEDGED, Told.ENDED]
    assert bench.state.watching["slips"].series[0].blocks == ()
