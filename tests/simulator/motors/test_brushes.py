"""What brushes add to the channels: sizes, where they sit in frequency, how often they come. Figures are invented."""

from math import pi

import numpy as np
import pytest

from simulator.motors.brushes import Brushes
from simulator.motors.motor import Motor, Trace
from simulator.motors.permanent_magnet_dc import BILGE_PUMP, MODEL
from tests.simulator.motors.cases import Floats, rms

RATE_HZ = 20_000.0


def steady(current_a: float, seconds: float = 2.0, turns_s: float = 50.0) -> Trace:
    """A motor at one speed with a current that stands still."""
    samples = round(seconds * RATE_HZ)
    values = np.repeat([[12.0], [current_a], [12.0], [current_a]], samples, axis=1)
    angle = np.arange(samples, dtype=np.float64) * (2 * pi * turns_s / RATE_HZ) + 0.1
    empty = np.zeros(0)
    speed = np.full(samples, 2 * pi * turns_s)
    return Trace(values, speed, np.zeros(samples), angle, np.zeros((3, samples)), empty, np.zeros(0, dtype=np.uint8))


def brushes(seed: int = 1) -> Brushes:
    return Brushes(RATE_HZ, np.random.default_rng(seed), ohm=0.42, henry=0.00025, rated_a=4.1, ripples_per_turn=12)


def added(current_a: float, wear: float, bad_bar: float = 0.0, seconds: float = 2.0) -> Floats:
    trace = steady(current_a, seconds)
    return brushes().add(trace, {"brush_wear": wear, "bad_bar": bad_bar}) - trace.values


def test_worn_brushes_are_louder_than_new_ones_and_a_current_that_is_not_there_has_no_noise() -> None:
    new, worn, still = added(20.0, 0.0), added(20.0, 1.0), added(0.0, 1.0)
    assert rms(worn[1]) > 15 * rms(new[1]) > 0
    assert not still.any()


def test_noise_of_new_brushes_is_20_millivolt_below_2_kilohertz() -> None:
    volts = added(40.0, 0.0, seconds=10.0)[0] / 0.05
    quiet = volts[np.abs(volts) < 0.2]  # between arcs
    assert rms(quiet) == pytest.approx(0.02, rel=0.05)
    power = np.abs(np.fft.rfft(volts)) ** 2
    low, high = power[1000:10_000].mean(), power[60_000:90_000].mean()  # 0.1 to 1 and 6 to 9 kHz
    assert low > 4 * high


def test_arcs_come_as_often_as_bars_pass_and_brushes_are_worn() -> None:
    """12 bars, 50 turns a second: 600 a second times 0.2 worn, times 0.001 new."""
    for wear, expected in ((0.0, 0.6 * 20), (1.0, 120 * 20)):
        volts = added(0.2, wear, seconds=20.0)[0] / 0.05  # a small current: hardly any noise beside the arcs
        count = np.count_nonzero(np.diff(volts) > 2.5)
        assert count == pytest.approx(expected, abs=4 * expected**0.5)


def test_a_bad_bar_sparks_once_a_turn() -> None:
    volts = added(0.2, 0.0, bad_bar=1.0)[0] / 0.05
    sparks = np.nonzero(np.diff(volts) > 2.5)[0]
    assert sparks.size == pytest.approx(100, abs=3)
    assert np.median(np.diff(sparks)) == RATE_HZ / 50


def test_lengths_of_stretches_do_not_matter_and_a_seed_repeats() -> None:
    controls = {"brush_wear": 0.7, "bad_bar": 0.4}
    whole, parts, noise = Motor(MODEL, BILGE_PUMP, RATE_HZ), Motor(MODEL, BILGE_PUMP, RATE_HZ), brushes()
    for motor in (whole, parts):
        motor.set(supply_on=1, **controls)
    one = brushes().add(whole.advance(3000), controls)
    pieces = [noise.add(parts.advance(n), controls) for n in (1, 1499, 1500)]
    assert np.array_equal(one, np.concatenate(pieces, axis=1))
    assert not np.array_equal(one, brushes(seed=2).add(whole.advance(3000), controls))


def test_the_trace_itself_stays_as_it_is() -> None:
    trace = steady(4.0, 0.1)
    before = trace.values.copy()
    brushes().add(trace, {"brush_wear": 1.0, "bad_bar": 0.0})
    assert np.array_equal(trace.values, before)


def test_every_model_with_brushes_makes_its_own() -> None:
    assert MODEL.disturbance is not None
    trace = steady(4.0, 0.1)
    noisy = MODEL.disturbance(BILGE_PUMP, RATE_HZ, np.random.default_rng(3)).add(
        trace, {"brush_wear": 1.0, "bad_bar": 0.0}
    )
    assert rms(noisy[1] - trace.values[1]) > 0.01
