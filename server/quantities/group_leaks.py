"""What of other lines is on the lines of harmonic groups, as what they may be off by. Pure.

Harmonics are taken out of the window before its lines are read, at the frequency that was read. Where that is wrong by
d lines, of an order k of RMS a there is left a wave that grows by j 2 pi k d a from one end of the window to the other:
it reads a k d / n at a line n lines away (its Fourier series). What lies between the harmonics is not taken out: a line
that leaves the window's end by so much of a cycle, as the window is longer or shorter than whole cycles, reads at most
that share of itself on any other line.
"""

from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

from server.quantities.analysis import Analysis

Rows = NDArray[np.float64]  # (rows, orders)
SUBGROUP, GROUP, BETWEEN = "subgroup", "group", "between"


class Leaks:
    """Of all rows of a window, from its lines (rows, lines) at each `per_order`-th of the fundamental."""

    def __init__(self, a: Analysis, lines: NDArray[np.complex128], per_order: int) -> None:
        assert a.phasors is not None
        wrong = a.wander * a.cycles
        self._per_order, self._sizes = per_order, wrong * wrong * (a.phasors.real**2 + a.phasors.imag**2)
        squares = lines.real**2 + lines.imag**2
        squares[:, ::per_order] = 0.0
        unlike = (1.0 - a.cycles / per_order) ** 2
        self._between = unlike * squares.sum(axis=1, keepdims=True)

    def at_order(self, orders: int) -> Rows:
        """Mean square on the line of each order, in phase with it."""
        shares = _shares(SUBGROUP, self._per_order, self._sizes.shape[1], orders)[0]
        found: Rows = 0.5 * (self._sizes @ shares + self._between)
        return found

    def on_all(self, kind: str, orders: int) -> Rows:
        """Summed squares on all lines of the groups of a kind."""
        shares, lines = _shares(kind, self._per_order, self._sizes.shape[1], orders)[1:]
        found: Rows = self._sizes @ shares + lines * self._between
        return found


@lru_cache(maxsize=32)
def _shares(
    kind: str, per_order: int, orders: int, groups: int
) -> tuple[NDArray[np.float64], NDArray[np.float64], float]:
    """Squares that each order puts on a group, (orders, groups), over its own and that of what it is wrong by: on the
    order's line, and on all lines; and how many these are."""
    k = np.arange(1, orders + 1)[:, np.newaxis]
    h = np.arange(0 if kind == BETWEEN else 1, groups + (kind != BETWEEN))
    every = np.zeros((orders, groups))
    at = _lines(kind, per_order)
    for line, weight in at:
        every += weight * _share(k, h * per_order + line - k * per_order)
    return _share(k, (h - k) * per_order), every, sum(weight for _, weight in at)


def _share(k: NDArray[np.intp], away: NDArray[np.intp]) -> NDArray[np.float64]:
    return np.where(away == 0, 0.0, np.square(k / np.where(away == 0, 1, away)))


def _lines(kind: str, per_order: int) -> list[tuple[int, float]]:
    """Lines of a group, counted from its order, and how much of each is in it."""
    if kind == SUBGROUP:
        return [(line, 1.0) for line in (-1, 0, 1)]
    if kind == BETWEEN:
        return [(line, 1.0) for line in range(2, per_order - 1)]
    half = (per_order - 1) // 2
    ends = [] if per_order % 2 else [(-half - 1, 0.5), (half + 1, 0.5)]
    return [*[(line, 1.0) for line in range(-half, half + 1)], *ends]
