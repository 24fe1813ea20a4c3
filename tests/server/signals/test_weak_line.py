"""A weak line beside others: against the Cramer-Rao bound, in noise alone, and beside a large mean and its drift."""

from math import inf

import numpy as np
import pytest
from numpy.typing import NDArray

from server.signals.weak_line import fit_line, near_line, peaks, prominence

N = 4000


def wave(cycles: float, size: float, draw: np.random.Generator) -> NDArray[np.float64]:
    at = (np.arange(N) - 0.5 * (N - 1)) / N
    wave: NDArray[np.float64] = size * np.cos(2 * np.pi * cycles * at + draw.uniform(0, 2 * np.pi))
    return wave


@pytest.mark.parametrize("decibels", [0, 20, 40])
def test_the_frequency_of_a_weak_line_is_near_the_bound_and_its_uncertainty_true(decibels: int) -> None:
    # var f >= 12 / ((2 pi)^2 eta N (N^2 - 1)) in cycles a sample, eta = A^2 / (2 sigma^2): S. M. Kay, Fundamentals of
    # Statistical Signal Processing: Estimation Theory, example 3.14 (from memory).
    draw, noise = np.random.default_rng(decibels), 0.1
    size = np.sqrt(2) * noise * 10 ** (decibels / 20)
    bound = np.sqrt(12 / (4 * np.pi**2 * (size**2 / (2 * noise**2)) * N))
    errors, inside = [], 0
    drift = 3 * np.linspace(-0.5, 0.5, N) + 4  # a large direct current that falls
    for _ in range(400):
        cycles = draw.uniform(80, 400)
        spectrum = np.fft.rfft(drift + wave(cycles, size, draw) + draw.normal(0, noise, N))
        above = prominence(spectrum, N)
        at = peaks(above, 40, 600, 1, 0.0, 0.0)
        line = fit_line(spectrum, N, float(near_line(above, at)[0]))
        assert line is not None
        errors.append(line.cycles - cycles)
        inside += abs(errors[-1]) < 2.1 * line.standard  # Student's t for 18 degrees of freedom
        assert line.rms == pytest.approx(size / np.sqrt(2), rel=0.2)
    assert np.sqrt(np.mean(np.square(errors))) / bound < 1.3
    assert 0.92 < inside / 400 < 0.98


def test_noise_alone_has_hardly_a_line_that_stands_out() -> None:
    draw = np.random.default_rng(1)
    found = [peaks(prominence(np.fft.rfft(draw.normal(0, 1, N)), N), 10, inf, 16, 0.0, 0.0).size for _ in range(300)]
    assert sum(each > 0 for each in found) <= 2


def test_silence_has_no_line() -> None:
    assert not prominence(np.fft.rfft(np.full(N, 3.0)), N)[5:].any()
    assert fit_line(np.fft.rfft(np.zeros(N)), N, 100.0) is None
    assert fit_line(np.fft.rfft(np.ones(N)), N, 2.0) is None


def test_a_peak_on_a_harmonic_of_the_supply_is_left_out() -> None:
    draw = np.random.default_rng(2)
    spectrum = np.fft.rfft(wave(70.3, 1, draw) + wave(143.0, 1, draw) + draw.normal(0, 0.1, N))
    assert peaks(prominence(spectrum, N), 10, inf, 16, 10.03, 1.5).tolist() == [143]
