"""Zeros and peaks of a line, where a point that a person sets comes to stand. Pure.

A wave turns only where it has gone well beyond its middle on both sides, so noise makes no stops.
"""

from itertools import pairwise

import numpy as np
from numpy.typing import NDArray

from server.live.thinning import Floats

CLEAR = 0.1  # of the swing, beyond the middle
STOPS_MAX = 400


def zeros(values: Floats) -> NDArray[np.float64]:
    """Places, in samples from the first one, at which the line passes through zero, between the samples.

    `values` has shape (samples,), NaN where missing; a passage beside a NaN is left out. Example: -1 1 gives 0.5.
    """
    return np.array([place for _, _, place in _passages(values, 0.0) if place is not None], dtype=np.float64)


def peaks(values: Floats) -> NDArray[np.intp]:
    """The samples that are highest or lowest between two passages through the middle of all that is there, and before
    the first and behind the last one where the line comes back from there."""
    known = np.flatnonzero(~np.isnan(values))
    if not known.size:
        return np.empty(0, dtype=np.intp)
    low, high = float(np.nanmin(values)), float(np.nanmax(values))
    if not high > low:
        return np.empty(0, dtype=np.intp)
    middle = (low + high) / 2.0
    ends = [-1, *(before for before, _, _ in _passages(values, middle)), values.size - 1]
    found = []
    for first, last in pairwise(ends):
        inner = values[first + 1 : last + 1] - middle
        if inner.size and not np.isnan(inner).all():
            place = first + 1 + int(np.nanargmax(np.abs(inner)))
            if 0 < place < values.size - 1:  # at the edge of what is shown it may go on rising
                found.append(place)
    return np.array(found, dtype=np.intp)


def _passages(values: Floats, level: float) -> list[tuple[int, int, float | None]]:
    """Last sample clear on one side, first one clear on the other, and where between them the line passes."""
    away = values.astype(np.float64) - level
    if away.size < 2 or np.isnan(away).all():
        return []
    clear = CLEAR * float(np.nanmax(np.abs(away)))
    side = np.where(away > clear, 1, np.where(away < -clear, -1, 0))
    beyond = np.flatnonzero(side)
    turns = np.flatnonzero(side[beyond[:-1]] != side[beyond[1:]])[:STOPS_MAX]
    return [(int(beyond[k]), int(beyond[k + 1]), _place(away, int(beyond[k]), int(beyond[k + 1]))) for k in turns]


def _place(away: NDArray[np.float64], before: int, after: int) -> float | None:
    between = away[before : after + 1] * np.sign(away[after])
    if np.isnan(between).any():
        return None
    last = int(np.flatnonzero(between <= 0.0)[-1])
    return before + last + float(-between[last] / (between[last + 1] - between[last]))
