"""Frequency from one step of the joint fit: exact where there is no noise, near the bound where there is."""

from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from server.signals import find_tone, phasors, sharpened, transform
from tests.server.signals.slow import sampled, series, square

RATE, COUNT = 20_000.0, 4000


def hertz_of(values: NDArray[np.float64], rate_hz: float = RATE) -> float:
    count = values.size
    spectrum = transform(values[np.newaxis])
    tone = find_tone(spectrum[0], count, count / 8)
    assert tone is not None
    orders = min(50, int((spectrum.shape[1] - 3) / tone.cycles))
    cycles, _ = sharpened(values, tone.cycles, phasors(spectrum, count, tone.cycles, orders)[0])
    return cycles * rate_hz / count


@settings(max_examples=80, deadline=None)
@given(st.floats(42.0, 1000.0), st.floats(0, 1), st.floats(0, 1), st.floats(-1, 1))
def test_a_wave_with_harmonics_and_a_mean_is_read_to_a_microhertz(
    hertz: float, first: float, third: float, mean: float
) -> None:
    turn = np.exp(2j * pi * np.array((first, third)))
    wave = series({1: turn[0], 2: 0.05 + 0j, 3: 0.2 * turn[1], 5: -0.1j, 7: 0.05 * turn[0]}, mean)
    assert hertz_of(sampled(wave, hertz, RATE, COUNT)) == pytest.approx(hertz, abs=1e-6)


@pytest.mark.parametrize("rate_hz", [2000.0, 10_000.0, 48_000.0])
@pytest.mark.parametrize("hertz", [45.0, 47.3, 52.5, 63.9])
def test_any_sample_rate_does_and_a_number_of_samples_that_no_block_divides(rate_hz: float, hertz: float) -> None:
    wave = series({1: 1.0 + 0j, 3: 0.1j, 5: 0.05 + 0j}, 0.1)
    for count in (round(rate_hz * 0.2), round(rate_hz * 0.2) - 1):
        assert hertz_of(sampled(wave, hertz, rate_hz, count, 0.3), rate_hz) == pytest.approx(hertz, abs=2e-7)


def test_a_tone_almost_right_is_made_right() -> None:
    values = sampled(series({1: 1.0 + 0j, 5: 0.2j}), 50.13, RATE, COUNT, 0.3)
    spectrum = transform(values[np.newaxis])
    for wrong in (-3e-3, 1e-3, 3e-3):
        cycles = 50.13 * 0.2 + wrong
        found, telling = sharpened(values, cycles, phasors(spectrum, COUNT, cycles, 50)[0])
        assert telling == pytest.approx(sqrt(2), rel=1e-3)  # 1 and 5 times 0.2
        assert abs(found - 50.13 * 0.2) < 0.03 * abs(wrong)


def test_every_harmonic_of_a_square_wave_tells_of_the_frequency() -> None:
    # 25 odd orders of size 1 / k tell 25 times as much as the first alone: a fifth of its deviation.
    draw, tries, sigma = np.random.default_rng(5), 150, 0.05
    clean = sampled(square(50), 50.13, RATE, COUNT, 0.3)
    errors = [hertz_of(clean + sigma * draw.standard_normal(COUNT)) - 50.13 for _ in range(tries)]
    alone = sqrt(12) * sigma / (2 * pi * 0.2 * (4 / pi) * sqrt(COUNT / 2))
    assert np.std(errors) < 1.35 * alone / 5


def test_an_interharmonic_leaks_little() -> None:
    # 1 % of a wave at 77 Hz, which is not of the model, moves 50 Hz by less than 1 mHz; the ramp of plain least squares
    # would let 3 mHz through: 12 / (2 pi) of 0.01 / 5.4 lines.
    for start in np.arange(8) / 8:
        wave = sampled(series({1: 1.0 + 0j}), 50.0, RATE, COUNT, start)
        other = sampled(series({1: 0.01 + 0j}), 77.0, RATE, COUNT)
        assert hertz_of(wave + other) == pytest.approx(50.0, abs=1e-3)
