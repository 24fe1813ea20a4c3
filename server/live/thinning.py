"""Samples to pixel columns, lowest and highest in each, so that no peak is lost. Pure functions on numpy arrays."""

from typing import Any, TypeAlias

import numpy as np
from numpy.typing import NDArray

Floats: TypeAlias = NDArray[np.floating[Any]]


def thinned(values: Floats, first: float, step: float, columns: int) -> tuple[Floats, Floats]:
    """Lowest and highest of evenly spaced samples in each column, shape (columns,) both.

    Sample k of `values`, shape (samples,), lies at `first + k * step`; column c is from c to c + 1. Samples
    outside of all columns are left out, NaN is passed over. Each column takes in the last sample of the
    one before, or steep flanks would break up. Where samples are sparse the straight line between them
    fills the columns. A column without any value is NaN. Raises ValueError for step <= 0 or columns < 1.

    Four samples on two columns: 0 1 | 3 2 gives lowest 0 1, highest 1 3.
    """
    if not step > 0 or columns < 1:
        raise ValueError(f"step {step} and columns {columns} must be positive")
    if step > 1 and values.size > 1:
        values, step = _filled(values, step)
    starts = np.clip(np.ceil((np.arange(columns + 1) - first) / step), 0, values.size).astype(np.intp)
    begins, ends = np.maximum(starts[:-1] - 1, 0), starts[1:]
    empty = ends <= starts[:-1]
    low = np.full(columns, np.nan, dtype=values.dtype)
    high = low.copy()
    if not empty.all():
        # reduceat takes the stretches between neighbouring indices; every second one is between two columns
        bounds = np.stack((begins[~empty], ends[~empty]), axis=1).ravel()
        padded = np.append(values, values.dtype.type(np.nan))  # an index at the very end is allowed then
        low[~empty] = np.fmin.reduceat(padded, bounds)[::2]
        high[~empty] = np.fmax.reduceat(padded, bounds)[::2]
    return low, high


def _filled(values: Floats, step: float) -> tuple[Floats, float]:
    """Straight lines between samples that lie more than a column apart; none across a NaN."""
    times = int(np.ceil(step))
    ramp = np.arange(times) / times
    lines = values[:-1, None] + np.diff(values)[:, None] * ramp
    lines[:, 0] = values[:-1]  # a sample beside a gap stays
    return np.append(lines.ravel(), values[-1]).astype(values.dtype), step / times
