"""Time, frequency, angle and values of two points, and what they may be off by."""

from dataclasses import replace

import numpy as np
import pytest

from server.live.stops import zeros
from server.live.two_points import Point, Snap, time_readings, value_readings
from server.live.wave import Wave
from server.readings import Reading
from server.samples import Part
from tests.server.live.kept_waves import (
    CLOCK,
    CURRENT,
    DELAY,
    FIRST_S,
    NOISE,
    OFFSET,
    RATE,
    VOLTAGE,
    kept,
    supply,
    wave,
)

FREQUENCY = kept().frequency


def found(readings: list[Reading]) -> dict[str, Reading]:
    return {each.key: each for each in readings}


def at_zero(which: int, its: Wave) -> Point:
    return Point(FIRST_S + zeros(its.values)[which] / RATE, its, Snap.ZERO)


def test_from_one_rise_to_the_next_is_a_cycle() -> None:
    volts = wave(supply()[0])
    times = found(time_readings(at_zero(0, volts), at_zero(2, volts), FREQUENCY))
    assert times["time_s"].value == pytest.approx(0.02, abs=1e-9)
    assert times["one_cycle_hz"].value == pytest.approx(50.0, abs=1e-5)
    assert times["angle_deg"].value == pytest.approx(360.0, abs=1e-4)


def test_backwards_time_and_angle_are_negative_and_the_frequency_is_not() -> None:
    volts = wave(supply()[0])
    times = found(time_readings(at_zero(1, volts), at_zero(0, volts), FREQUENCY))
    assert times["time_s"].value == pytest.approx(-0.01, abs=1e-9)
    assert times["angle_deg"].value == pytest.approx(-180.0, abs=1e-4)
    assert times["one_cycle_hz"].value == pytest.approx(100.0, abs=1e-4)


@pytest.mark.parametrize(("which", "seconds", "offsets"), [(2, 0.02, 0.0), (1, 0.01, 2.0)])
def test_a_zero_is_as_sure_as_noise_over_its_slope_and_an_offset_moves_both(
    which: int, seconds: float, offsets: float
) -> None:
    """By hand: 0.2 V of noise on 102 V/ms, twice; the clock adds its 50 ppm. An offset moves both rises the same way,
    and a fall against a rise by twice its 0.8 V / root 3 over the slope."""
    volts = wave(supply()[0])
    time = found(time_readings(at_zero(0, volts), at_zero(which, volts), FREQUENCY))["time_s"]
    slope = 325.0 * 2 * np.pi * 50.0
    noise, moved = NOISE * 400.0 / slope, offsets * OFFSET * 400.0 / 3**0.5 / slope
    assert time.uncertainty is not None
    whole = np.sqrt(2 * noise**2 + moved**2 + (seconds * CLOCK.standard) ** 2)
    assert time.uncertainty.half == pytest.approx(1.96 * whole, rel=1e-3)


def test_an_offset_that_a_channel_really_has_lies_within_what_is_told() -> None:
    """A whole cycle stays as long as it is with 0.6 V of offset; from rise to fall it is longer by 2 o / slope."""
    volts = supply()[0]
    off = found(time_readings(at_zero(0, wave(volts + 0.6)), at_zero(1, wave(volts + 0.6)), FREQUENCY))["time_s"]
    assert isinstance(off.value, float)
    assert abs(off.value - 0.01) == pytest.approx(2 * 0.6 / (325.0 * 2 * np.pi * 50.0), rel=1e-3)
    assert off.uncertainty is not None
    assert off.uncertainty.low < 0.01 < off.uncertainty.high


def test_two_samples_of_one_line_are_as_far_apart_as_the_clock_says() -> None:
    volts = wave(supply()[0])
    one, other = (Point(FIRST_S + at_s, volts, Snap.SAMPLE) for at_s in (0.001, 0.011))
    time = found(time_readings(one, other, FREQUENCY))["time_s"]
    assert time.uncertainty is not None
    assert time.uncertainty.half == pytest.approx(1.96 * 0.01 * CLOCK.standard, rel=1e-4)


def test_between_two_channels_their_delays_count_and_the_clock_drops_out_of_the_angle() -> None:
    volts, amps = wave(supply()[0]), wave(supply()[1], CURRENT)
    one, other = Point(FIRST_S + 0.01, volts, Snap.SAMPLE), Point(FIRST_S + 0.015, amps, Snap.SAMPLE)
    angle = found(time_readings(one, other, FREQUENCY))["angle_deg"]
    assert angle.value == pytest.approx(90.0)
    delays = 360.0 * 50.0 * np.hypot(DELAY, DELAY) / 3**0.5
    by_frequency = 360.0 * 0.005 * 0.00255
    assert angle.uncertainty is not None
    assert angle.uncertainty.half == pytest.approx(1.96 * np.hypot(delays, by_frequency), rel=1e-3)


def test_values_of_two_lines_have_no_difference_and_those_of_one_do() -> None:
    volts, amps = wave(supply()[0]), wave(supply()[1], CURRENT)
    mixed = found(value_readings(Point(FIRST_S + 0.005, volts), Point(FIRST_S + 0.005, amps)))
    assert set(mixed) == {"value_one", "value_other"}
    same = found(value_readings(Point(FIRST_S + 0.005, volts), Point(FIRST_S + 0.015, volts)))
    assert same["value_one"].value == pytest.approx(325.0)
    assert same["difference"].value == pytest.approx(-650.0)


def test_of_a_difference_on_one_channel_the_offset_drops_out() -> None:
    volts = wave(supply()[0])
    readings = found(value_readings(Point(FIRST_S + 0.0, volts), Point(FIRST_S + 0.04, volts)))
    value, difference = readings["value_one"].uncertainty, readings["difference"].uncertainty
    assert value is not None
    assert difference is not None
    assert value.half > 1.96 * 0.002 * 400.0 / 3**0.5
    assert not any("offset" in source for source, _ in difference.parts)


@pytest.mark.parametrize(("second_s", "slopes"), [(0.02, 0.0), (0.01, 2.0)])
def test_of_a_difference_on_one_channel_the_delay_counts_once(second_s: float, slopes: float) -> None:
    """At two rises it moves both values alike, at a rise and a fall by twice the slope."""
    volts = wave(supply()[0])
    difference = found(value_readings(Point(FIRST_S, volts), Point(FIRST_S + second_s, volts)))["difference"]
    assert difference.uncertainty is not None
    delays = [standard for source, standard in difference.uncertainty.parts if "delay" in source]
    slope = 325.0 * np.sin(2 * np.pi * 50.0 / RATE) * RATE
    assert sum(delays) == pytest.approx(slopes * slope * DELAY / 3**0.5, rel=1e-6, abs=1e-9)


def test_an_angle_that_was_found_between_two_channels_is_what_their_time_rests_on() -> None:
    """Whatever the voltage's own delay is, and where nobody says what it is."""
    skew = Part(0.1e-6, rectangular=False, origin="angle calibration")
    volts = wave(supply()[0], replace(VOLTAGE, delay_error=None))
    amps = wave(supply()[1], replace(CURRENT, delay_error=None, skew=skew, skew_from=0))
    one, other = Point(FIRST_S + 0.01, volts, Snap.SAMPLE), Point(FIRST_S + 0.015, amps, Snap.SAMPLE)
    time = found(time_readings(one, other, FREQUENCY))["time_s"]
    assert time.uncertainty is not None
    assert time.uncertainty.half == pytest.approx(1.96 * np.hypot(0.1e-6, 0.005 * CLOCK.standard), rel=1e-3)
    assert "delay between the channels: angle calibration" in [source for source, _ in time.uncertainty.parts]
    unknown = found(time_readings(one, Point(FIRST_S + 0.015, wave(supply()[1], CURRENT), Snap.SAMPLE), FREQUENCY))
    assert unknown["time_s"].uncertainty is None


def test_points_at_the_same_moment_have_no_time_and_without_a_frequency_there_is_no_angle() -> None:
    volts = wave(supply()[0])
    same = time_readings(at_zero(0, volts), at_zero(0, volts), FREQUENCY)
    assert {each.reason for each in same} == {"the points stand at the same moment"}
    angle = found(time_readings(at_zero(0, volts), at_zero(1, volts), None))["angle_deg"]
    assert angle.reason == "no frequency was read when this was kept"
