"""RMS over one cycle, refreshed each half cycle, from the samples of a window. Knows no motor and no channel."""

from math import ceil, floor, pi

import numpy as np
from numpy.typing import NDArray

HALVES_MIN = 2


def half_cycle_rms(values: NDArray[np.float64], cycles: float, angle: float) -> NDArray[np.float64]:
    """RMS of each row over each cycle that begins at a zero of the fundamental, rising or falling: (rows, halves - 1).

    `values` (rows, samples) with `cycles` cycles; `angle`: of the fundamental that says where the zeros are, a cosine's
    at the middle of the window, rad. IEC 61000-4-30, 3.1 (U_rms(1/2), from memory). A sample stands for the time half a
    sample to each side of it; where a zero falls into that, the square counts by its part, as if it grew evenly there.
    No columns where the window holds no cycle and a half.
    """
    samples = values.shape[1]
    half = samples / (2.0 * cycles)
    first = samples / 2.0 + half * (0.5 - angle / pi)  # a zero; others are whole halves away
    zeros = first + half * np.arange(ceil((1.0 - first) / half), floor((samples - 2.0 - first) / half) + 1)
    if zeros.shape[0] <= HALVES_MIN:
        return np.empty((values.shape[0], 0))
    at = np.floor(zeros + 0.5).astype(np.intp)
    squares = values * values
    sums = np.add.reduceat(squares, at, axis=1)[:, :-1]
    past = zeros - at  # -0.5 to 0.5
    growth = 0.5 * (squares[:, at + 1] - squares[:, at - 1])
    over = squares[:, at] * (past + 0.5) + growth * 0.5 * (past * past - 0.25)
    sums += over[:, 1:] - over[:, :-1]
    cycle = np.maximum(sums[:, 1:] + sums[:, :-1], 0.0)  # where nothing is, less than nothing may lie beside a zero
    rms: NDArray[np.float64] = np.sqrt(cycle / (2.0 * half))
    return rms
