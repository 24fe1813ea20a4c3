"""What harmonics of rows that are made of other channels may be off by through gains and delays of these. Pure.

Each order is another sum of the channels' own: one error shows in every order by another share, and no gain drops out
of a distortion.
"""

from math import pi

import numpy as np
from numpy.typing import NDArray

from server.quantities.analysis import THD_ORDER_MAX, Analysis

Floats = NDArray[np.float64]


def mixed_harmonics(a: Analysis, row: int) -> tuple[Floats, float]:
    """Standard uncertainty of the RMS of each order, (orders,), and the variance of the summed squares of orders 2 to
    THD_ORDER_MAX, less that of the fundamental's square in proportion."""
    assert a.phasors is not None
    turn = 2.0 * pi * (a.frequency_hz or 0.0) * np.arange(1, a.orders + 1)
    sizes, rest = np.abs(a.phasors[row]), slice(1, THD_ORDER_MAX)
    along = a.phasors[row].conj() / np.maximum(sizes, 1e-300)
    share = float(np.square(sizes[rest]).sum()) / max(sizes[0], 1e-300)
    squares, variance = np.zeros(a.orders), 0.0
    for s, weight in a.layout.rows[row].mix:
        own, spread = weight * a.phasors[s] * along, a.spreads[s]
        for moved in (spread.gain * own.real, spread.delay * turn * own.imag):
            squares += moved * moved
            variance += float(2.0 * (sizes[rest] @ moved[rest] - share * moved[0])) ** 2
    found: Floats = np.sqrt(squares)
    return found, variance
