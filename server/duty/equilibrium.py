"""Thermal equilibrium, which ends a heat run: by the slope of a temperature while the motor is used evenly. Pure.

IEC 60034-1, 3.9 (from memory): equilibrium is reached when temperature rises vary by no more than 1 K in half an hour,
which is told by straight lines between the points at beginning and end of two successive half hours.
"""

from bisect import bisect_left
from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

HALF_HOUR_S = 1800.0
LIMIT_K = 1.0  # in half an hour
_EVEN = 0.05  # of the time: by so much at most does the share of on-time differ from one half hour to the next
_NEAR_S = 400.0  # a point this close stands for a moment: points are 300 s apart

Span = tuple[float, float]  # from, to
Point = tuple[float, float]  # when, °C


@dataclass(frozen=True, slots=True)
class Equilibrium:
    """`since_s`: when the second half hour ended that showed it; None: not reached, and `missing` says what is missing.

    `changes_k`: of the newest two half hours, the earlier one first. `at_c`: the temperature then.
    """

    since_s: float | None
    missing: str = ""
    changes_k: tuple[float, ...] = ()
    at_c: float | None = None


def equilibrium_of(points: Sequence[Point], on: Sequence[Span]) -> Equilibrium:
    """The first moment at which it was reached. `points`: (n,) of (s, °C); `on`: when it was on; both in order."""
    at = np.array([when for when, _ in points], np.float64)
    since = _unbroken_since(at)
    newest: tuple[float, ...] = ()
    missing = "no temperature was measured over an hour in a row"
    for k, (end_s, value) in enumerate(points):
        moments = end_s - 2 * HALF_HOUR_S, end_s - HALF_HOUR_S, end_s
        begin, middle = (int(np.abs(at - each).argmin()) for each in moments[:2])
        if begin < since[k] or abs(at[begin] - moments[0]) > _NEAR_S / 2:
            continue
        newest = points[middle][1] - points[begin][1], value - points[middle][1]
        shares = [_share(on, *span) for span in pairwise(moments)]
        if min(shares) <= 0.0 or abs(shares[1] - shares[0]) > _EVEN:
            missing = "the motor was not on alike in two half hours in a row"
        elif max(map(abs, newest)) > LIMIT_K:
            changes = f"{newest[0]:+.1f} K and {newest[1]:+.1f} K"
            missing = f"it changed by {changes} in two half hours: more than {LIMIT_K:g} K"
        else:
            return Equilibrium(end_s, "", newest, value)
    return Equilibrium(None, missing, newest)


def _unbroken_since(at: NDArray[np.float64]) -> NDArray[np.int64]:
    """For each point the first one from which on there is no gap up to it."""
    begins = np.flatnonzero(np.diff(at, prepend=-np.inf) > _NEAR_S)
    return begins[np.searchsorted(begins, np.arange(at.shape[0]), side="right") - 1]


def _share(on: Sequence[Span], from_s: float, to_s: float) -> float:
    """Of the time between, how much it was on, 0 to 1. Only spans that reach into it are looked at."""
    first = max(bisect_left(on, (from_s,)) - 1, 0)
    last = bisect_left(on, (to_s,))
    return sum(max(min(b, to_s) - max(a, from_s), 0.0) for a, b in on[first:last]) / (to_s - from_s)
