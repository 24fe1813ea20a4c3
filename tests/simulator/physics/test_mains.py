"""Alternating supplies: what stands at the terminals at each phase."""

from math import pi, sqrt
from typing import Any

import numpy as np
import pytest

from simulator.physics.control import initial
from simulator.physics.mains import HARMONICS, MAINS, MAINS_CONTROLS, fill_mains, flickered, mains_v
from tests.simulator.motors.cases import Floats, rms

PHASES = 2 * pi * np.arange(1_000) / 1_000


def mains_of(volts: float = 230.0, **controls: float) -> Any:
    record = np.zeros(1, MAINS)
    fill_mains(record[0], {**initial(MAINS_CONTROLS), **controls}, volts)
    return record[0]


def one_cycle(mains: Any, amplitude: float = 1.0) -> Floats:
    return np.array([mains_v(mains, phase, amplitude) for phase in PHASES])


def test_the_rms_is_the_voltage_asked_for_and_it_starts_at_a_rising_zero() -> None:
    u = one_cycle(mains_of())
    assert rms(u) == pytest.approx(230)
    assert u[0] == 0
    assert u[1] > 0
    assert np.max(u) == pytest.approx(230 * sqrt(2))


def test_each_harmonic_has_its_share_of_the_fundamental_and_no_other_order_appears() -> None:
    percents = {f"harmonic_{h}_percent": 20.0 / h for h in HARMONICS}
    spectrum = np.abs(np.fft.rfft(one_cycle(mains_of(**percents)))) / 500
    wanted = np.zeros(spectrum.size)
    wanted[1] = 1
    wanted[list(HARMONICS)] = [0.2 / h for h in HARMONICS]
    assert spectrum / (230 * sqrt(2)) == pytest.approx(wanted, abs=1e-9)


def test_direct_voltage_stands_alone_or_on_top_of_the_alternating_one() -> None:
    assert one_cycle(mains_of(0.0, direct_v=24)) == pytest.approx(24)
    on_top = one_cycle(mains_of(direct_v=-24))
    assert np.mean(on_top) == pytest.approx(-24)
    assert rms(on_top) == pytest.approx(sqrt(230**2 + 24**2))


def test_flicker_swings_the_amplitude_of_everything_but_the_direct_part() -> None:
    mains = mains_of(flicker_percent=10, flicker_hz=8, harmonic_5_percent=30, direct_v=5)
    amplitudes = np.array([flickered(mains, phase) for phase in PHASES])
    assert (amplitudes.min(), amplitudes.max()) == pytest.approx((0.9, 1.1), abs=1e-5)
    assert mains["flicker_rad_s"] == pytest.approx(2 * pi * 8)
    assert one_cycle(mains, 1.1) - 5 == pytest.approx(1.1 * (one_cycle(mains) - 5))


def test_angle_and_impedance_are_taken_as_they_are_told() -> None:
    mains = mains_of(switching_angle_deg=90, source_ohm=0.4, source_h=0.001, mains_hz=60)
    assert mains["switching_rad"] == pytest.approx(pi / 2)
    assert (mains["source_ohm"], mains["source_h"]) == (0.4, 0.001)
    assert mains["rad_s"] == pytest.approx(120 * pi)
