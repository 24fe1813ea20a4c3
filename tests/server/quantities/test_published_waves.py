"""Readings of chopped, rectified and distorted waves whose figures are printed somewhere; the source beside each.

Books of which it says "a companion" were read in a public collection of re-worked examples, not on the book's page.
Not asked for, as Slipring computes no such thing: form factors, means over half a cycle, currents of single thyristors,
distortion powers D_I, D_V and S_H, smoothing over 1.5 s, class D limits, code letters of locked-rotor power, derating,
classes of efficiency and insulation, duty types.
"""

from cmath import exp, pi
from dataclasses import replace
from math import radians, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray

from server.readings import Confidence, Reading
from server.samples import Part
from tests.server.quantities.windows import current, number, read, voltage, waves, window
from tests.server.signals.slow import Wave, series

DEGREE_HZ = 18_000.0  # 360 samples to a cycle of 50 Hz
HALF_DEGREE = 0.5 / 360  # samples lie on both sides of a firing angle, so that sums are midpoint rules


def supply(peak_v: float) -> Wave:
    return lambda turns: peak_v * np.sin(2 * pi * turns)


def chopped(peak: float, firing_deg: float) -> Wave:
    """Both half waves from the firing angle on."""

    def wave(turns: NDArray[np.float64]) -> NDArray[np.float64]:
        degrees = 360.0 * (turns % 0.5)
        return np.where(degrees < firing_deg, 0.0, peak * np.sin(2 * pi * turns))

    return wave


def chopping(volts: float, ohm: float, firing_deg: float) -> tuple[dict[str, Reading], dict[str, Reading]]:
    """Readings at the supply, and with the voltage of the load instead."""
    peak = volts * sqrt(2)
    drawn, load = chopped(peak / ohm, firing_deg), chopped(peak, firing_deg)
    rows = waves(50.0, supply(peak), drawn, load, rate_hz=DEGREE_HZ, start_turns=HALF_DEGREE)
    channels = [voltage(), current(limit_a=20)]
    at_supply, at_load = (read(window(channels, [rows[k], rows[1]], DEGREE_HZ)) for k in (0, 2))
    return at_supply, at_load


# Bimbhra, Power Electronics, example 9.2, p. 560 (read in a companion): 230 V, 20 ohm, 45 degrees.
def test_a_triac_at_45_degrees() -> None:
    at_supply, at_load = chopping(230.0, 20.0, 45.0)
    assert number(at_load, "voltage_rms_v") == pytest.approx(219.304, abs=0.01)
    assert number(at_supply, "active_power_w") == pytest.approx(2404.71, abs=0.2)
    assert number(at_supply, "power_factor") == pytest.approx(0.95, abs=0.005)
    assert at_supply["power_factor_sense"].value == "lagging"


# A public table of a resistive load of 50 ohm on 230 V, phase-controlled (codingace.net, single-phase AC voltage
# controller). The same site's inverse table contradicts its own formula and is not taken.
@pytest.mark.parametrize(
    ("firing_deg", "volts", "watts"),
    [
        (30, 226.66, 1027.493),
        (60, 206.296, 851.16),
        (90, 162.635, 529.0),
        (120, 101.696, 206.84),
        (150, 39.056, 30.507),
    ],
)
def test_a_printed_table_of_firing_angles(firing_deg: float, volts: float, watts: float) -> None:
    at_supply, at_load = chopping(230.0, 50.0, firing_deg)
    steps = 3e-4  # of sums of samples a degree apart, at worst
    assert number(at_load, "voltage_rms_v") == pytest.approx(volts, rel=steps)
    assert number(at_supply, "active_power_w") == pytest.approx(watts, rel=steps)


# Bimbhra, example 9.3, p. 564 (read in a companion): 230 V, 15 ohm, six cycles on and four off.
def test_a_burst_of_six_cycles_in_ten() -> None:
    def bursts(turns: NDArray[np.float64]) -> NDArray[np.float64]:
        return np.where(turns % 10 < 6, 230 * sqrt(2) * np.sin(2 * pi * turns), 0.0)

    rows = waves(50.0, supply(230 * sqrt(2)), bursts, rate_hz=DEGREE_HZ)
    found = read(window([voltage(), current(limit_a=30)], [rows[0], rows[1] / 15], DEGREE_HZ))
    assert 15 * number(found, "current_rms_a") == pytest.approx(178.16, abs=0.005)
    assert number(found, "power_factor") == pytest.approx(0.77, abs=0.005)
    # By its own frequency alone, which the bursts move, the RMS is off by 0.8 %, and says so.
    stated = replace(voltage(), gain=Part(1e-4), offset_error=Part(1e-3), delay_error=Part(1e-7))
    alone = read(window([stated], [rows[1]], DEGREE_HZ))
    sure = alone["voltage_rms_v"].uncertainty
    assert sure is not None
    assert sure.low < 178.16 < sure.high
    assert "not steady" in alone["frequency_hz"].reason


# A sine: crest factor 1.414213562 (a public table of waveform constants).
@pytest.mark.parametrize("hertz", [50.0, 60.0, 47.3])
def test_a_sine(hertz: float) -> None:
    found = read(window([current()], waves(hertz, series({1: -1j / sqrt(2)}))))
    assert number(found, "current_rms_a") == pytest.approx(1 / sqrt(2), rel=1e-6)
    assert number(found, "current_crest_factor") == pytest.approx(1.414213562, rel=2e-4)
    assert number(found, "current_thd_percent") == pytest.approx(0.0, abs=1e-3)


# A full-wave rectified sine of 1: RMS 0.70711, mean 0.63662, ripple 0.48343 of the mean, second harmonic 0.42441
# (Fourier series; the form factor 1.11 is printed in a public tutorial of form factors).
def test_a_full_wave_rectified_sine_is_a_direct_current_with_its_ripple() -> None:
    found = read(window([current()], waves(50.0, lambda turns: np.abs(np.sin(2 * pi * turns)), start_turns=0.01)))
    rms, mean = number(found, "current_rms_a"), number(found, "current_mean_a")
    assert (rms, mean) == pytest.approx((0.7071067812, 0.6366197724), abs=2e-5)
    assert rms / mean == pytest.approx(1.11, abs=0.005)
    assert sqrt(rms**2 - mean**2) / mean == pytest.approx(0.4834258476, abs=1e-4)
    assert found["current_frequency_hz"].reason == "direct current"


# Hart, Power Electronics, chapter 2, a sinusoidal source with a nonsinusoidal load (from memory; its THD of 0.86 counts
# direct current, which IEC 61000-4-7 does not: without it 0.4216, ours).
def test_a_load_with_direct_current_and_two_harmonics() -> None:
    parts = {h: size / sqrt(2) * exp(1j * radians(at)) for h, size, at in ((1, 15, 30), (2, 6, 45), (3, 2, 60))}
    rows = waves(377 / (2 * pi), series({1: 100 / sqrt(2) + 0j}), series(parts, mean=8.0))
    found = read(window([voltage(), current(limit_a=40)], rows))
    rms, power = number(found, "current_rms_a"), number(found, "active_power_w")
    assert power == pytest.approx(650, abs=0.5)
    assert rms == pytest.approx(14.0, abs=0.05)
    assert number(found, "power_factor") == pytest.approx(0.66, abs=0.005)
    assert found["power_factor_sense"].value == "leading"
    assert power / (100 / sqrt(2) * rms * number(found, "displacement_power_factor")) == pytest.approx(0.76, abs=0.005)
    assert number(found, "current_thd_percent") == pytest.approx(42.16, abs=0.01)
    assert number(found, "current_mean_a") == pytest.approx(8.0, abs=1e-4)


# Bird, Electrical Circuit Theory and Technology, examples 3, 4 and 6, pp. 648-652 (read in a companion).
def test_rms_of_sums_of_sines_and_their_power_in_a_resistor() -> None:
    def peaks(*sizes: float) -> Wave:
        return series({2 * k + 1: -1j * size / sqrt(2) for k, size in enumerate(sizes)})

    rows = waves(50.0, peaks(10, 3, 2), peaks(0.1, 0.02, 0.01))
    found = read(window([voltage(), current()], rows))
    assert 1000 * number(found, "current_rms_a") == pytest.approx(72.46, abs=0.005)
    assert number(found, "voltage_rms_v") == pytest.approx(7.52, abs=0.005)
    rows = waves(50.0, peaks(240, 100, 40), peaks(12, 5, 2))
    found = read(window([voltage(), current(limit_a=20)], rows))
    assert number(found, "active_power_w") == pytest.approx(1730.0, abs=0.05)
    assert number(found, "power_factor") == pytest.approx(1.0, abs=1e-6)


# Bird, example 11, p. 659 (read in a companion): 25 V and 100, 40, 20 V at orders 1, 3, 5 of 10 000 rad/s on 5 ohm and
# 0.5 mH. At 50 Hz here: what counts is that the coil has 5 ohm at order 1.
def test_a_coil_on_a_distorted_voltage_with_a_direct_part() -> None:
    volts = {h: -1j * peak / sqrt(2) for h, peak in ((1, 100), (3, 40), (5, 20))}
    amps = {h: phasor / (5 + 5j * h) for h, phasor in volts.items()}  # 10 000 rad/s x 0.5 mH is 5 ohm
    rows = waves(50.0, series(volts, mean=25.0), series(amps, mean=5.0))
    found = read(window([voltage(), current(limit_a=40)], rows))
    harmonics = found["current_harmonics_a"].value
    assert isinstance(harmonics, tuple)
    assert [sqrt(2) * harmonics[h] for h in (0, 2, 4)] == pytest.approx([14.14, 2.53, 0.78], abs=0.005)
    assert number(found, "current_mean_a") == pytest.approx(5.0, abs=0.05)
    assert number(found, "current_rms_a") == pytest.approx(11.34, abs=0.005)
    assert number(found, "active_power_w") == pytest.approx(642.538, abs=0.001)
    assert found["active_power_w"].confidence is Confidence.GOOD
