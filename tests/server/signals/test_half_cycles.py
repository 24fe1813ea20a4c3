"""RMS over a cycle, refreshed each half cycle, against a slow sum over each cycle."""

from math import pi, sqrt

import numpy as np
import pytest
from numpy.typing import NDArray

from server.signals import half_cycle_rms

RATE_HZ, SAMPLES = 20_000.0, 4000


def wave(hertz: float, angle: float, dip: tuple[float, float] = (1.0, 1.0), depth: float = 1.0) -> NDArray[np.float64]:
    """A sine of RMS 1 with `angle` (of a cosine) in the middle, `depth` of it between two shares of the window."""
    n = np.arange(SAMPLES)
    values: NDArray[np.float64] = sqrt(2.0) * np.cos(2 * pi * hertz * (n - SAMPLES / 2) / RATE_HZ + angle)
    values[round(dip[0] * SAMPLES) : round(dip[1] * SAMPLES)] *= depth
    return values.reshape(1, -1)


@pytest.mark.parametrize("hertz", [42.5, 50.0, 53.7, 60.0, 69.0, 400.0])
@pytest.mark.parametrize("angle", [-3.0, -1.0, 0.0, 0.3, pi / 2, 3.1])
def test_every_cycle_of_a_steady_wave_has_its_rms(hertz: float, angle: float) -> None:
    cycles = SAMPLES * hertz / RATE_HZ
    found = half_cycle_rms(wave(hertz, angle), cycles, angle)
    assert found.shape[1] >= 2 * int(cycles) - 3
    assert found == pytest.approx(1.0, abs=2e-5 if hertz < 100.0 else 2e-4)


def test_a_dip_of_one_cycle_shows_at_its_depth_and_in_its_neighbours_by_half() -> None:
    """50 Hz, zeros at every half window of a cycle: cycle 5 of 10 at 0.3 of its height."""
    found = half_cycle_rms(wave(50.0, -pi / 2, (0.4, 0.5), 0.3), 10.0, -pi / 2)[0]
    assert found.min() == pytest.approx(0.3, abs=1e-3)
    beside = sqrt((1.0 + 0.3**2) / 2.0)
    around = np.sort(found)[1:3]
    assert around == pytest.approx([beside, beside], abs=1e-3)
    assert np.sort(found)[3:] == pytest.approx(1.0, abs=1e-3)


def test_less_than_a_cycle_and_a_half_has_none() -> None:
    assert half_cycle_rms(wave(5.0, 0.0), 1.0, 0.0).shape == (1, 0)
