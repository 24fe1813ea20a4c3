"""Means between two places that need not fall on samples. Pure; knows no motor and no channel.

Between samples a straight line is taken. What that leaves out is told beside the mean, so that it can be counted.
"""

from dataclasses import dataclass
from math import floor

import numpy as np
from numpy.typing import NDArray

Floats = NDArray[np.float64]
_CURVED = 1 / 12  # of the second difference: what a straight line leaves out of one step (trapezoid rule)
_CLEAR = 12.0  # times the noise: of four samples, one of which was chosen for its noise
_WIDTHS = (1, 2, 3, 4, 6, 8, 11, 16, 23, 32, 45, 64, 91, 128)  # steps
_WITHIN = 1 / 8  # the same of a place within a step


@dataclass(frozen=True, slots=True)
class Mean:
    """`value` over `length` steps; `left_out`: what straight lines may have left out of it at most; `step`: how much
    higher the last value is than the first, so that a shift of both places by d steps changes the mean by
    d * step / length."""

    value: float
    length: float
    left_out: float
    step: float


def at(values: Floats, place: float) -> float:
    """On the straight line between the samples, (samples,), beside `place`, 0 to samples - 1."""
    k = min(max(floor(place), 0), values.size - 2)
    return float(values[k] + (place - k) * (values[k + 1] - values[k]))


def mean_between(values: Floats, first: float, last: float) -> Mean:
    """Of samples of shape (samples,), from place `first` to place `last`, 0 to samples - 1.

    What is left out inside adds up to a twelfth of the change of slope from end to end (Euler and Maclaurin, from
    memory), and each end is inside one step. Example: 0 1 2 3 from 0.5 to 2.5 is 1.5. Raises ValueError unless
    0 <= first < last <= samples - 1.
    """
    if not 0.0 <= first < last <= values.size - 1:
        raise ValueError(f"from {first} to {last} is no stretch of {values.size} samples")
    length = last - first
    begin, end = floor(first), min(floor(last), values.size - 2)
    inner = values[begin : end + 2]
    sums = float(inner[:-1].sum() + inner[1:].sum()) / 2.0
    head, tail = first - begin, end + 1 - last
    sums -= head * (inner[0] + 0.5 * head * (inner[1] - inner[0]))
    sums -= tail * (inner[-1] + 0.5 * tail * (inner[-2] - inner[-1]))
    change = abs((inner[-1] - inner[-2]) - (inner[1] - inner[0]))
    ends = bent(values, begin), bent(values, end)
    left_out = _WITHIN * max(ends) if length < 1.0 else _CURVED * (change + sum(ends)) / length
    return Mean(float(sums / length), length, float(left_out), at(values, last) - at(values, first))


def slope(values: Floats, place: float, noise: float) -> float:
    """Change of a sample at a place, over as few steps on both sides as make it clear of noise of this RMS, or as there
    are: a noisy line passes zero where it happens to be steep."""
    below, above = floor(place), floor(place) + 1
    for wide in _WIDTHS:
        first, last = below - wide + 1, above + wide - 1
        if first < 0 or last >= values.size or np.isnan(values[first : last + 1]).any():
            break
        below, above = first, last
        if abs(values[above] - values[below]) >= _CLEAR * noise:
            break
    below = min(below, values.size - 2)
    return float(values[min(above, values.size - 1)] - values[below]) / (min(above, values.size - 1) - below)


def curved(values: Floats, k: int, noise: float) -> float:
    """Second difference of a sample at sample k, its size, likewise over as few samples as make it clear of noise."""
    found = 0.0
    for wide in _WIDTHS:
        if k - wide < 0 or k + wide >= values.size or np.isnan(values[k - wide : k + wide + 1]).any():
            break
        bend = abs(float(values[k - wide] - 2.0 * values[k] + values[k + wide]))
        found = bend / wide**2
        if bend >= _CLEAR * noise:
            break
    return found


def bent(values: Floats, k: int) -> float:
    """The greater second difference at the two ends of step k, as far as its samples are there; 0 where none is."""
    near = values[max(k - 1, 0) : k + 3]
    found = np.abs(np.diff(near, 2))
    return float(np.nanmax(found)) if found.size and not np.isnan(found).all() else 0.0
