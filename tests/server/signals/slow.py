"""A slow, independent way to the same numbers: sums over whole periods, written out, no transform and no weighting."""

from cmath import exp
from collections.abc import Callable
from math import pi, sqrt

import numpy as np
from numpy.typing import NDArray

Wave = Callable[[NDArray[np.float64]], NDArray[np.float64]]  # angle in turns -> value


def rms_phasor(wave: Wave, order: int, points: int = 4096) -> complex:
    """RMS phasor of one order over one period, the angle that of a cosine at turn 0. Direct sum, term by term."""
    values = wave(np.arange(points) / points).tolist()
    total = sum(value * exp(-2j * pi * order * k / points) for k, value in enumerate(values))
    return complex(total * sqrt(2) / points)


def series(phasors: dict[int, complex], mean: float = 0.0) -> Wave:
    """The wave with these RMS phasors."""

    def wave(turns: NDArray[np.float64]) -> NDArray[np.float64]:
        total = np.full_like(turns, mean)
        for order, phasor in phasors.items():
            total += sqrt(2) * (phasor * np.exp(2j * np.pi * order * turns)).real
        return total

    return wave


def square(orders: int) -> Wave:
    """Unit square wave, rising at turn 0, up to an order: 4 / (pi h) for odd h."""
    return series({h: -1j * 4 / (pi * h) / sqrt(2) for h in range(1, orders + 1, 2)})


def triangle(orders: int) -> Wave:
    """Unit triangle, peak at turn 0, up to an order: 8 / (pi h)^2 for odd h."""
    return series({h: complex(8 / (pi * h) ** 2 / sqrt(2)) for h in range(1, orders + 1, 2)})


def sampled(wave: Wave, hertz: float, rate_hz: float, count: int, start_turns: float = 0.0) -> NDArray[np.float64]:
    return wave(start_turns + np.arange(count, dtype=np.float64) * (hertz / rate_hz))


def at_middle(phasor: complex, order: int, hertz: float, rate_hz: float, count: int) -> complex:
    """A phasor of turn 0 at the window's first sample, as seen from the window's middle."""
    return phasor * exp(2j * pi * order * hertz * count / 2 / rate_hz)
