import numpy as np
import pytest
from numpy.typing import NDArray

from server.live.crossings import rising_zeros

RATE_HZ = 20_000.0


def wave(frequency_hz: float, phase: float, samples: int = 3000, **orders: float) -> NDArray[np.float64]:
    angle = 2 * np.pi * frequency_hz * np.arange(samples) / RATE_HZ - phase
    values: NDArray[np.float64] = np.sin(angle)
    for order, size in orders.items():
        values += size * np.sin(int(order[1:]) * angle)
    return 325 * values


@pytest.mark.parametrize("frequency_hz", [16.7, 45.0, 50.0, 60.3, 400.0])
@pytest.mark.parametrize("phase", [0.3, 2.0, 5.9])
def test_a_sine_is_found_to_rise_where_it_does(frequency_hz: float, phase: float) -> None:
    period = RATE_HZ / frequency_hz
    found = rising_zeros(wave(frequency_hz, phase), period)
    true = phase / (2 * np.pi) * period + np.arange(200) * period
    assert found.size >= int(3000 / period) - 1
    # a straight line between two samples leaves the sine by at most h^2/8: here well under a hundredth of a sample
    nearest = true[np.abs(found[:, None] - true).argmin(axis=1)]
    np.testing.assert_allclose(found, nearest, atol=0.01)


def test_harmonics_in_phase_do_not_move_the_crossings() -> None:
    np.testing.assert_allclose(
        rising_zeros(wave(50.0, 1.0, o3=0.2, o5=0.1, o13=0.05), 400), rising_zeros(wave(50.0, 1.0), 400), atol=0.05
    )


def test_noise_about_zero_makes_no_crossings_of_its_own() -> None:
    noisy = wave(50.0, 1.0) + np.random.default_rng(5).normal(0, 15, 3000)
    assert rising_zeros(noisy, 400).size == rising_zeros(wave(50.0, 1.0), 400).size == 8


def test_a_gap_takes_away_only_the_crossing_in_it() -> None:
    whole = rising_zeros(wave(50.0, 1.0), 400)
    gapped = wave(50.0, 1.0)
    gapped[int(whole[2]) - 3 : int(whole[2]) + 3] = np.nan
    np.testing.assert_allclose(rising_zeros(gapped, 400), np.delete(whole, 2))


@pytest.mark.parametrize("values", [np.zeros(900), np.full(900, np.nan), np.ones(900), np.ones(0), np.ones(20)])
def test_no_crossing_where_nothing_crosses(values: NDArray[np.float64]) -> None:
    assert rising_zeros(values, 400).size == 0
