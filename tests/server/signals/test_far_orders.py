"""Harmonics read at their own frequency up to order 50, against a least-squares fit and a zoomed transform of scipy."""

import numpy as np
import pytest
from numpy.typing import NDArray
from scipy.linalg import lstsq
from scipy.signal import windows, zoom_fft

from server.signals import phasors, transform
from tests.server.signals.slow import at_middle, sampled, series

ORDERS = 50
CASES = [(rate, hertz) for rate in (10_000.0, 20_000.0) for hertz in (45.0, 47.3, 50.0, 52.5, 63.9, 66.0)]


def drawn(seed: int) -> dict[int, complex]:
    """A fundamental of 1 and 49 harmonics of up to 20 %, none too small to be seen."""
    draw = np.random.default_rng(seed)
    sizes = np.concatenate(((1.0,), draw.uniform(0.002, 0.2, ORDERS - 1)))
    return {k: complex(size * np.exp(2j * np.pi * draw.random())) for k, size in enumerate(sizes, 1)}


def read(values: NDArray[np.float64], hertz: float, rate_hz: float) -> NDArray[np.complex128]:
    count = values.size
    found: NDArray[np.complex128] = phasors(transform(values[np.newaxis]), count, hertz * count / rate_hz, ORDERS)[0]
    return found


@pytest.mark.parametrize(("rate_hz", "hertz"), CASES)
def test_every_order_is_read_as_it_was_made(rate_hz: float, hertz: float) -> None:
    truth, count = drawn(1), round(rate_hz * 0.2)
    found = read(sampled(series(truth, 0.3), hertz, rate_hz, count, 0.1), hertz, rate_hz)
    at_start = {k: phasor * np.exp(2j * np.pi * k * 0.1) for k, phasor in truth.items()}
    exact = [at_middle(phasor, k, hertz, rate_hz, count) for k, phasor in at_start.items()]
    assert np.abs(found - exact).max() < 2e-9


@pytest.mark.parametrize(("rate_hz", "hertz"), [(10_000.0, 47.3), (20_000.0, 63.9)])
def test_with_noise_every_order_is_near_what_a_fit_of_all_sinusoids_at_once_finds(rate_hz: float, hertz: float) -> None:
    # The fit of all 101 columns is the best estimate there is; with noise of 1 % the two may differ by what weighting
    # the window costs: root of (1.23^2 - 1) of the fit's own deviation, 0.01 / sqrt(samples).
    count = round(rate_hz * 0.2)
    noise = 0.01 * np.random.default_rng(2).standard_normal(count)
    values = sampled(series(drawn(2), -0.2), hertz, rate_hz, count, 0.4) + noise
    turns = np.exp(2j * np.pi * np.outer((np.arange(count) - count / 2) * hertz / rate_hz, np.arange(1, ORDERS + 1)))
    fitted = lstsq(np.hstack((np.ones((count, 1)), turns.real, -turns.imag)), values)[0][1:] / np.sqrt(2)
    apart = np.abs(read(values, hertz, rate_hz) - (fitted[:ORDERS] + 1j * fitted[ORDERS:]))
    deviation = 0.01 / np.sqrt(count)
    assert np.sqrt(np.mean(apart**2 / 2)) < 1.2 * np.sqrt(1.23**2 - 1) * deviation
    assert apart.max() < 4 * np.sqrt(2) * deviation


@pytest.mark.parametrize(("rate_hz", "hertz"), CASES)
def test_a_zoomed_transform_round_every_order_has_its_peak_as_high(rate_hz: float, hertz: float) -> None:
    # scipy.signal.zoom_fft with the Blackman-Harris window, whose side lobes lie 92 dB below the peak.
    count, truth = round(rate_hz * 0.2), drawn(3)
    values = sampled(series(truth), hertz, rate_hz, count)
    window = windows.blackmanharris(count, sym=False)
    found = np.abs(read(values, hertz, rate_hz))
    for k in truth:
        near = zoom_fft(values * window, [k * hertz - 0.5, k * hertz + 0.5], m=101, fs=rate_hz, endpoint=True)
        peak = np.abs(near).max() * np.sqrt(2) / window.sum()
        assert found[k - 1] == pytest.approx(peak, abs=1e-4)
