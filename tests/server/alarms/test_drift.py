"""Drift: found where there is wear, not where there is scatter; what it is looked for in."""

from collections.abc import Sequence

import numpy as np
import pytest

from server.alarms.coasting import DRY_RPM_S, TO_HALF_S, Coast, coasted
from server.alarms.drift import BLOCKS_MIN, drifted, trend
from server.alarms.notice import Told
from server.alarms.series import Series, of_these, taken
from server.alarms.watched import BRUSHED, CAPACITANCE, alone, figures_of
from server.config import AlarmSettings
from server.readings import Fast, Reading, StateChange
from tests.server.alarms.aged_motors import VENTILATOR, R, coasts, coasts_found_s, fan, fan_steady, pump
from tests.server.alarms.nights import Kind
from tests.server.alarms.scenes import Bench, only

HOURS = 3600.0


def test_the_pump_of_the_nights_is_the_one_of_the_bench() -> None:
    one = np.ones(1)
    w, amps = pump(12.0 * one, one, R * one)
    assert w[0] * 30.0 / np.pi == pytest.approx(3571.0, rel=0.005), "an integrated run, with the ripple of the bars"
    assert amps[0] == pytest.approx(4.085, rel=0.01)


def test_the_ventilator_of_the_nights_is_near_its_equations() -> None:
    for volts, load, part in ((1.0, 1.0, 1.0), (0.92, 0.85, 0.75), (1.08, 1.15, 0.94)):
        near = fan(np.array([volts]), np.array([load]), np.array([part]))[:, 0]
        assert near == pytest.approx(fan_steady(230.0 * volts, load, 4.0 * part), rel=0.015)


def test_a_clogged_fan_and_another_supply_shorten_the_coasting_and_are_no_friction() -> None:
    kind = Kind("more air, and faster", load_step=0.2, supply_step=0.1)
    rows = [numbers for _, numbers in coasts(kind, np.random.default_rng(2), VENTILATOR)]
    times = [numbers[TO_HALF_S] for numbers in rows]
    assert np.mean(times[30:]) < 0.8 * np.mean(times[:30]), "by time alone it would be called wear"
    assert coasts_found_s(kind, np.random.default_rng(2), VENTILATOR) is None


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


RUNS = (StateChange(0.0, 0.1, "running"),)


def rows(begin_s: float, rpm: Sequence[float], *changes: StateChange) -> Fast:
    count = len(rpm)
    t = begin_s + 0.01 * np.arange(1.0, count + 1.0)
    return Fast(t, np.zeros(count), np.zeros(count), np.array(rpm), changes)


def test_a_coast_down_is_timed_to_half_the_speed_at_which_it_ran() -> None:
    coast, took = coasted(Coast(), rows(0.0, [1500.0] * 20, *RUNS))
    assert took is None
    coast, took = coasted(coast, rows(0.2, [1490.0] * 20, StateChange(0.25, 0.35, "coasting")))
    assert took is None
    slowing = np.linspace(1400.0, 300.0, 111).tolist()
    coast, took = coasted(coast, rows(0.4, slowing))
    assert took is not None
    assert took[TO_HALF_S] == pytest.approx(0.4 + 0.01 * 66 - 0.25)
    assert coasted(coast, rows(2.0, [100.0] * 20))[1] is None


def test_a_motor_that_is_switched_on_while_it_coasts_is_not_timed() -> None:
    coast, _ = coasted(Coast(), rows(0.0, [1500.0] * 20, *RUNS))
    coast, _ = coasted(coast, rows(0.2, [1490.0] * 20, StateChange(0.25, 0.35, "coasting")))
    coast, _ = coasted(coast, rows(0.4, [1400.0] * 20, StateChange(0.45, 0.5, "starting")))
    assert coasted(coast, rows(0.6, [300.0] * 20))[1] is None


@pytest.mark.parametrize("pulses", [1, 4, 60])
@pytest.mark.parametrize("dry_n_m", [0.04, 0.08])
def test_dry_friction_is_told_beside_that_of_a_fan_by_an_encoder_of_few_pulses_too(pulses: int, dry_n_m: float) -> None:
    """Against the equation of motion in steps of 0.1 ms: J dw/dt = -(T + k w^2), the fan of the ventilator."""
    inertia, fan_, step_s = 0.0012, 2.179e-5, 1e-4
    w, t, turns, passed = 144.5, 0.0, 0.0, [-2.0 * np.pi / 144.5 / pulses, 0.0]
    half_s, found, seen = 0.0, None, list[float]()
    coast = Coast(1380.0, 0.0, (), "coasting")
    while found is None and w > 2.0:
        w, t = w - (dry_n_m + fan_ * w * w) / inertia * step_s, t + step_s
        turns += w * step_s / (2.0 * np.pi)
        half_s = half_s or (t if w < 0.5 * 144.5 else 0.0)
        while (len(passed) - 1) / pulses < turns:
            passed.append(t - (turns - (len(passed) - 1) / pulses) * 2.0 * np.pi / w)
        if round(t / step_s) % 100 == 0:
            seen.append(min(1380.0, 60.0 / pulses / max(passed[-1] - passed[-2], t - passed[-1])))
            coast, found = coasted(coast, rows(t - 0.01, seen[-1:]))
    assert found is not None
    assert found[TO_HALF_S] == pytest.approx(half_s, abs=0.012)
    assert found[DRY_RPM_S] == pytest.approx(dry_n_m / inertia * 30.0 / np.pi, rel=0.12)


def test_a_temperature_is_held_against_the_air_and_the_heat_that_is_made() -> None:
    warm, square = figures_of("", "temperature_c.winding")[0]
    numbers = {"temperature_c.winding": 65.0, "temperature_c.ambient": 20.0, "active_power_w": 90.0}
    numbers["current_rms_a"] = 3.0
    assert (warm.of(numbers), square.of(numbers)) == (0.5, 5.0)
    (alone_,) = figures_of("", "temperature_c.winding")[1]
    assert alone_.of(numbers) is None, "where the air is known the temperature alone is not watched"
    assert alone_.of({"temperature_c.winding": 65.0}) == 65.0


def test_a_temperature_that_comes_by_itself_is_watched_with_the_power_of_the_windows() -> None:
    bench = Bench(only(AlarmSettings("warming")))
    for hour in np.arange(0.0, 7.0, 40.0 / 3600.0):
        bench.now_s, bench.board_s = bench.now_s + 39.4, bench.board_s + 39.4
        bench.see(Reading("temperature_c.housing", 60.0 + 2.0 * max(hour - 1.0, 0.0) + hour % 0.01))
        bench.see(Reading("temperature_c.ambient", 20.0), Reading("run_state", "running"))
        bench.see(Reading("active_power_w", 50.0), Reading("current_rms_a", 4.0), Reading("run_state", "running"))
    life = bench.life("warming")
    assert life is not None
    assert life.why.startswith("Drifted in ")
    assert "rise per watt +" in life.why


def test_a_series_of_other_figures_is_begun_anew() -> None:
    kept = Series(("speed_rpm",), warming_s=0.0)
    assert of_these(kept, (alone("speed_rpm"),)) is kept
    assert of_these(kept, BRUSHED) == Series(tuple(figure.name for figure in BRUSHED))


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
