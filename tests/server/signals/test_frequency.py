"""Frequency of the fundamental: a sweep, noise against the bound, and what is no tone."""

from math import pi, sqrt

import numpy as np
import pytest
from hypothesis import given, settings
from hypothesis import strategies as st
from numpy.typing import NDArray

from server.signals import Tone, find_tone, transform
from tests.server.signals.slow import sampled, series, square

RATE, COUNT = 20_000.0, 4000
WINDOW_S = COUNT / RATE


def tone_of(values: NDArray[np.float64]) -> Tone:
    tone = find_tone(transform(values[np.newaxis])[0], values.shape[0], values.shape[0] / 8)
    assert tone is not None
    return tone


def test_a_pure_50_hz_sine() -> None:
    tone = tone_of(sampled(series({1: 230 + 0j}), 50.0, RATE, COUNT))
    assert tone.cycles == pytest.approx(10.0, abs=1e-9)
    assert tone.rms == pytest.approx(230.0, rel=1e-9)
    assert tone.misfit < 1e-9


@settings(max_examples=150, deadline=None)
@given(st.floats(10.0, 2400.0), st.floats(0, 1), st.floats(0, 1), st.floats(-1, 1))
def test_one_mhz_from_10_hz_to_an_eighth_of_the_rate_with_10_percent_third_harmonic(
    hertz: float, first: float, third: float, mean: float
) -> None:
    wave = series({1: np.exp(2j * pi * first), 3: 0.1 * np.exp(2j * pi * third)}, mean)
    tone = tone_of(sampled(wave, hertz, RATE, COUNT))
    assert tone.cycles / WINDOW_S == pytest.approx(hertz, abs=1e-3)


@settings(max_examples=60, deadline=None)
@given(st.floats(45.0, 65.0), st.floats(0, 1))
def test_mains_with_every_odd_harmonic_is_read_to_50_uhz(hertz: float, start: float) -> None:
    tone = tone_of(sampled(square(99), hertz, RATE, COUNT, start))
    assert tone.cycles / WINDOW_S == pytest.approx(hertz, abs=5e-5)


@pytest.mark.parametrize(("rate_hz", "hertz"), [(1000.0, 60.02), (30_000.0, 59.98), (5000.0, 50.0), (96_000.0, 400.0)])
def test_other_sample_rates(rate_hz: float, hertz: float) -> None:
    count = round(rate_hz * 0.2)
    tone = tone_of(sampled(series({1: 1 + 0j, 3: 0.1j}), hertz, rate_hz, count, 0.2))
    assert tone.cycles * rate_hz / count == pytest.approx(hertz, abs=1e-3)


def test_noise_moves_the_frequency_by_little_more_than_the_bound() -> None:
    # Cramer-Rao bound of a real sine: sd(f) = sqrt(12) sigma / (2 pi T A sqrt(N / 2)) (Rife and Boorstyn 1974, eq. 26
    # for a complex one, from memory). Weighting the window and looking at three lines alone doubles it
    # (`sharpened` brings it down again: test_sharpening.py).
    draw, sigma, tries = np.random.default_rng(3), 0.05, 200
    clean = sampled(series({1: 1 / sqrt(2) + 0j}), 50.13, RATE, COUNT, 0.3)
    errors = [tone_of(clean + sigma * draw.standard_normal(COUNT)).cycles / WINDOW_S - 50.13 for _ in range(tries)]
    bound = sqrt(12) * sigma / (2 * pi * WINDOW_S * sqrt(COUNT / 2))
    assert 0.9 * bound < np.std(errors) < 2.3 * bound
    assert abs(np.mean(errors)) < 3 * 2.3 * bound / sqrt(tries)


@given(st.floats(1e-6, 1e6))
@settings(max_examples=30, deadline=None)
def test_scale_does_not_matter(scale: float) -> None:
    values = sampled(square(99), 50.31, RATE, COUNT, 0.1)
    one, other = tone_of(values), tone_of(values * scale)
    assert other.cycles == pytest.approx(one.cycles, rel=1e-12)
    assert other.rms == pytest.approx(one.rms * scale, rel=1e-12)


def test_a_frequency_that_changes_inside_the_window_does_not_fit() -> None:
    t = np.arange(COUNT) / RATE
    steady = tone_of(np.sin(2 * pi * 52.0 * t))
    rising = tone_of(np.sin(2 * pi * (50.0 * t + 10.0 * t * t)))  # 50 to 54 Hz
    growing = tone_of(np.sin(2 * pi * 52.0 * t) * np.where(t < 0.1, 0.5, 1.0))
    assert steady.misfit < 1e-6
    assert rising.misfit > 0.05
    assert growing.misfit > 0.05


def test_silence_has_no_tone() -> None:
    assert find_tone(transform(np.zeros((1, COUNT)))[0], COUNT, COUNT / 8) is None
    assert find_tone(transform(np.ones((1, 8)))[0], 8, 1.0) is None
