"""Angle between voltage and current on a resistive load: what is found, how sure, and what is refused."""

from dataclasses import replace
from math import atan, degrees, pi, sqrt
from pathlib import Path

import numpy as np
import pytest

from firmware_protocol import SampleKind
from server.calibration.angle import LOADS, find_angle
from server.calibration.entry import What
from server.calibration.found import Found, UnfitError
from server.calibration.stretch import Stretch
from server.calibration.trial import Asked, look_record
from server.samples import Samples
from tests.server.calibration.measured import CURRENT, VOLTAGE, Fault, level, sine, stretch_of

HEATER, FILM, WIRE = LOADS


def test_a_delay_of_the_current_s_channel_is_found() -> None:
    stretch = stretch_of(sine(230.0), sine(5.0, fault=Fault(delay_s=40e-6)), seed=1)
    found = find_angle(VOLTAGE, CURRENT, stretch, FILM)
    assert found.change == pytest.approx(40e-6, abs=2e-7)
    assert found.before.value == pytest.approx(-degrees(2 * pi * 50 * 40e-6), abs=0.01)
    assert found.frequency_hz == pytest.approx(50.0, abs=1e-3)


def test_delays_that_hold_already_are_counted() -> None:
    late = replace(CURRENT, delay_s=40e-6)
    stretch = stretch_of(sine(230.0), sine(5.0, fault=Fault(delay_s=40e-6)), channels=(VOLTAGE, late))
    assert find_angle(VOLTAGE, late, stretch, FILM).before.value == pytest.approx(0.0, abs=1e-4)


@pytest.mark.parametrize("tau_s", [0.0, 8e-6, 20e-6])
def test_the_true_delay_lies_inside_whatever_the_resistor_s_inductance_is(tau_s: float) -> None:
    """Its own angle is atan(omega L / R); anything up to the stated most must be inside."""
    lag_deg = degrees(atan(2 * pi * 50 * tau_s))
    stretch = stretch_of(sine(230.0), sine(5.0, lag_deg=lag_deg, fault=Fault(delay_s=90e-6)), seed=2)
    found = find_angle(VOLTAGE, CURRENT, stretch, WIRE)
    assert abs(found.change - 90e-6) <= 1.96 * found.standard
    parts = {words: standard for words, standard, _ in found.parts}
    assert parts["inductance of a wire-wound resistor"] == pytest.approx(10e-6 / sqrt(3.0), rel=1e-3)


def refusal(volts: np.ndarray, amps: np.ndarray) -> str:
    with pytest.raises(UnfitError) as refused:
        find_angle(VOLTAGE, CURRENT, stretch_of(volts, amps), HEATER)
    return str(refused.value)


def test_a_motor_is_no_resistor() -> None:
    assert "I lags U by 60°: that load is no resistor" in refusal(sine(230.0), sine(5.0, lag_deg=60.0))


def test_a_sensor_turned_round_is_named() -> None:
    assert refusal(sine(230.0), -sine(5.0)) == "I stands against U: is the current sensor turned round?"


def test_small_currents_are_refused() -> None:
    assert "take at least 0.71 A" in refusal(sine(230.0), sine(0.3))
    assert "take at least 28 V" in refusal(sine(12.0), sine(5.0))


def test_another_shape_than_the_voltage_s_is_no_resistor() -> None:
    chopped = sine(5.0) * (np.abs(sine(1.0)) < 1.2)
    assert "that load is no resistor" in refusal(sine(230.0), chopped)


def test_direct_voltage_has_no_angle() -> None:
    assert "no steady fundamental" in refusal(level(230.0), level(5.0))


def test_an_angle_that_wanders_is_refused() -> None:
    times = np.arange(level(0.0).size)
    wandering = 5.0 * sqrt(2.0) * np.cos(2 * pi * 50 * times / 5000.0 + 0.1 * np.sin(times / 1500.0))
    assert "the angle was not steady" in refusal(sine(230.0), wandering)


def test_the_angle_that_a_person_sees_is_within_half_a_turn() -> None:
    """A sensor turned round whose channel states 1 ms: -180 degrees and 18 of the delay, or 198, are -162 or 162."""
    for delay_s, lead_deg in ((1e-3, -162.0), (-1e-3, 162.0)):
        late = replace(CURRENT, delay_s=delay_s)
        stretch = stretch_of(sine(230.0), -sine(5.0), channels=(VOLTAGE, late))
        asked = Asked(What.ANGLE, late, against=VOLTAGE)
        assert look_record(asked, stretch)["lead_deg"] == pytest.approx(lead_deg, abs=0.01)


def test_rms_values_and_other_groups_have_no_angle() -> None:
    stretch = stretch_of(sine(230.0), sine(5.0))
    with pytest.raises(UnfitError, match="not sampled together"):
        find_angle(VOLTAGE, replace(CURRENT, group=1), stretch, HEATER)
    with pytest.raises(UnfitError, match="no instantaneous values"):
        find_angle(VOLTAGE, replace(CURRENT, kind=SampleKind.RMS), stretch, HEATER)
    with pytest.raises(UnfitError, match="between a voltage and a current"):
        find_angle(CURRENT, VOLTAGE, stretch, HEATER)


def test_the_kettle_leads_by_five_degrees_and_one_cycle_of_it_puts_the_others_right(recordings: Path) -> None:
    """Open recordings: the clamp turns a kettle's 4.6 A by 5 degrees (trap of the index), and no resistor leads."""
    kept = np.load(recordings / "plaid-kettle-cycles.npz")
    clean = kept["clean_run"]
    cycles = list(zip(kept["voltage_v"][clean], kept["current_a"][clean], strict=True))
    first = found_in(*cycles[0])
    assert first.before.value == pytest.approx(5.0, abs=0.5)
    for volts, amps in cycles[1:]:
        assert found_in(volts, amps, first.change).before.value == pytest.approx(first.wanted.value, abs=0.3)


def found_in(volts: np.ndarray, amps: np.ndarray, delay_s: float = 0.0) -> Found:
    """One cycle of 60 Hz at 30 kHz over and over, as the player plays it."""
    u = replace(VOLTAGE, high=200.0, low=-200.0, noise_rms=None)
    i = replace(CURRENT, high=28.0, low=-28.0, noise_rms=None, delay_s=delay_s)
    values = np.array([np.tile(volts, 200), np.tile(amps, 200)])
    none, stretch = np.zeros(values.shape, np.bool_), Stretch()
    stretch.take(Samples((u, i), 0, 0, 1e6 / 30e3, 1e6, values, none[0], none))
    return find_angle(u, i, stretch, HEATER)
