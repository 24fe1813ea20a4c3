"""A direct current with the ripple of a commutator, and the speed read from it, against the bound.

The current has lines at one turn, at the bars and at twice the bars, whose frequencies all follow from the speed; the
bound is that of this joint model. Signal-to-noise ratio: the bars' line to white noise over the sampled band.
"""

from math import pi, sqrt

import numpy as np

from server.signals import transform
from server.signals.shaft_lines import Orders, find_turning
from tests.server.accuracy.bound import Row, bounds, middle_times

_RATE_HZ, _COUNT = 20_000.0, 4000
_SHARES = {1: 0.3, 2: 0.1}  # of the bars' line: at one turn, and at twice the bars


def ripple_ratio(bars: int, hertz: float, snr_db: float, windows: int, seed: int) -> float:
    """Root-mean-square error of the turns a second over the bound; an even number of bars, two poles."""
    draw = np.random.default_rng([seed, bars, round(hertz * 10), round(snr_db)])
    t, sigma = middle_times(_RATE_HZ, _COUNT), 10 ** (-snr_db / 20)
    window_s = _COUNT / _RATE_HZ
    squares = []
    for _ in range(windows):
        turning = hertz * draw.uniform(1.0, 1.01)
        sizes = {1: _SHARES[1], bars: 1.0, 2 * bars: _SHARES[2]}
        row = Row({k: size * np.exp(2j * pi * draw.random()) for k, size in sizes.items()}, mean=20.0)
        wave = sum((sqrt(2) * phasor * np.exp(2j * pi * k * turning * t)).real for k, phasor in row.phasors.items())
        spectrum = transform((row.mean + wave + sigma * draw.standard_normal(_COUNT))[np.newaxis])[0]
        found = find_turning(spectrum, _COUNT, Orders(bars, bars), 0.6 * hertz * window_s, 1.6 * hertz * window_s)
        assert found is not None
        least = bounds([row], [sigma], turning, _RATE_HZ, _COUNT).frequency_hz
        squares.append(((found.turns / window_s - turning) / least) ** 2)
    return float(np.sqrt(np.mean(squares)))
