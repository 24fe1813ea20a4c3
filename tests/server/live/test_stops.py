"""Where points come to stand: zeros and peaks of waves whose own are known."""

import numpy as np
import pytest
from scipy.signal import find_peaks

from server.live.stops import peaks, zeros

RATE = 10_000.0


def wave(seconds: float = 0.06, hertz: float = 50.0, noise: float = 0.0, mean: float = 0.0) -> np.ndarray:
    t = np.arange(round(seconds * RATE)) / RATE
    draw = np.random.default_rng(5)
    return np.asarray(325.0 * np.sin(2 * np.pi * hertz * t + 0.4) + mean + draw.normal(0.0, noise, t.size))


def test_zeros_of_a_sine_are_found_between_the_samples() -> None:
    phases = np.arange(1, 7) * np.pi - 0.4
    np.testing.assert_allclose(zeros(wave()) / RATE, phases / (2 * np.pi * 50.0), atol=1e-7)


def test_peaks_of_a_sine_are_its_highest_and_lowest_samples() -> None:
    both = np.sort(np.concatenate([find_peaks(sign * wave())[0] for sign in (1.0, -1.0)]))
    np.testing.assert_array_equal(peaks(wave()), both)


def test_noise_makes_no_stops_of_its_own() -> None:
    assert zeros(wave(noise=3.0)).size == 6
    assert peaks(wave(noise=3.0)).size == 6


def test_ripple_on_a_direct_voltage_has_peaks_and_no_zeros() -> None:
    ripple = wave(mean=1000.0)
    assert zeros(ripple).size == 0
    assert peaks(ripple).size == 6


def test_a_passage_beside_missing_samples_is_none() -> None:
    values = wave()
    place = int(zeros(values)[2])
    values[place - 1 : place + 2] = np.nan
    assert zeros(values).size == 5


@pytest.mark.parametrize("values", [np.zeros(50), np.full(50, np.nan), np.array([1.0]), np.empty(0)])
def test_where_nothing_turns_there_are_none(values: np.ndarray) -> None:
    assert zeros(values).size == 0
    assert peaks(values).size == 0
