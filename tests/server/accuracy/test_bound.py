"""The bound itself, against printed values and the formulas for long records."""

from math import pi, sqrt

import numpy as np
import pytest

from tests.server.accuracy.bound import Row, bounds, covariance

# Printed: project of the course TTT4275 (NTNU), results.md: variances of angular frequency and phase of a complex
# exponential of amplitude 1, 513 samples at 1 MHz round the origin. Its noise is 1 / SNR in each of the two parts.
PRINTED = {-10: (888854.756866, 0.019493), 0: (88885.475687, 0.001949), 10: (8888.547569, 0.000195)}


@pytest.mark.parametrize("decibels", PRINTED)
def test_a_complex_exponential_has_the_printed_bounds(decibels: int) -> None:
    t = np.arange(-256, 257) * 1e-6
    wave = np.exp(2j * pi * 1e5 * t)
    inverse = covariance([1j * t * wave, 1j * wave, wave], sqrt(10 ** (-decibels / 10)))
    omega, phase = PRINTED[decibels]
    assert inverse[0, 0] == pytest.approx(omega, rel=1e-8)
    assert inverse[1, 1] == pytest.approx(phase, abs=5e-7)


def test_a_second_of_a_real_tone_comes_to_the_formulas_for_long_records_but_not_quite() -> None:
    # 10 A, 50 Hz, 10 kS/s, 1 s, 0.2 A of noise: formulas of Kay 1993, example 3.14 (from memory), 155.939361 uHz,
    # 2.828427 mA and 565.643001 urad (at the first sample); a 3 x 3 Fisher matrix inverted by others: 155.9426837,
    # 2.828428859 and 564.3293794.
    t = np.arange(10_000) / 10_000
    angle = 2 * pi * 50 * t + 0.7
    inverse = covariance([-20 * pi * t * np.sin(angle), np.cos(angle), -10 * np.sin(angle)], 0.2)
    deviations = np.sqrt(np.diag(inverse))
    assert deviations == pytest.approx([155.9426837e-6, 2.828428859e-3, 564.3293794e-6], rel=1e-8)
    assert deviations == pytest.approx([155.939361e-6, 2.828427125e-3, 565.6430012e-6], rel=3e-3)
    assert deviations[2] != pytest.approx(565.6430012e-6, rel=2e-3)


def test_harmonics_carry_their_order_times_their_size_of_what_is_known_of_the_frequency() -> None:
    alone = bounds([Row({1: 1j})], [0.01], 50.0, 20_000.0, 4000).frequency_hz
    both = bounds([Row({1: 1j, 5: 0.2})], [0.01], 50.0, 20_000.0, 4000).frequency_hz
    assert alone == pytest.approx(sqrt(12) * 0.01 / sqrt(2) / (2 * pi * 0.2 * sqrt(4000 / 2)), rel=1e-3)
    assert both == pytest.approx(alone / sqrt(1 + 25 * 0.04), rel=2e-3)


def test_rms_power_and_angle_have_the_bounds_that_whole_cycles_give() -> None:
    # Whole cycles make all parts orthogonal: RMS sigma / sqrt(N); power sqrt(U^2 + I^2) sigma / sqrt(N); size of an
    # order sigma / sqrt(N), its angle that over its size.
    rows = [Row({1: 3.0, 3: 0.5j}, 0.2), Row({1: 4j})]
    found = bounds(rows, [0.01, 0.01], 50.0, 20_000.0, 4000)
    unit = 0.01 / sqrt(4000)
    assert found.rms == pytest.approx((unit, unit), rel=1e-3)
    assert found.sizes[0] == pytest.approx({1: unit, 3: unit}, rel=1e-3)
    assert found.angle_rad == pytest.approx(unit * sqrt(1 / 9 + 1 / 16), rel=1e-3)
    assert found.power == pytest.approx(unit * sqrt(3**2 + 0.5**2 + 0.2**2 + 4**2), rel=0.02)


def test_a_drift_to_be_found_too_costs_the_frequency_of_the_middle_nothing() -> None:
    rows = [Row({1: 1.0, 3: 0.1j}), Row({1: 1j})]
    without, with_it = (bounds(rows, [0.01, 0.02], 52.5, 20_000.0, 4000, drift=drift) for drift in (False, True))
    assert with_it.frequency_hz == pytest.approx(without.frequency_hz, rel=1e-2)
    assert with_it.angle_rad == pytest.approx(without.angle_rad, rel=1e-2)
