"""Has a reading drifted? A sequential test of block means against the run's own scatter with its memory. Pure.

A straight line is fitted to the block means; its slope is held against what scatter with this memory gives by chance.
Neighbouring blocks are alike where something slow is at work, and then say less than so many independent ones: with
a correlation phi from one to the next n of them count as n (1 - phi) / (1 + phi) (Bayley and Hammersley 1946, Suppl. J.
R. Stat. Soc. 8, "The effective number of independent observations in an autocorrelated time series"; for trends
Weatherhead et al. 1998, J. Geophys. Res. 103, 17149). phi is found too small from few blocks, the more so behind a
fitted line; that is put right (Marriott and Pope 1954, Biometrika 41, 390; Kendall 1954, ibid., 403), and half a
standard error is added. The test is a generalised likelihood ratio for a ramp, asked anew at each block with one bound
for all (Basseville and Nikiforov 1993, Detection of Abrupt Changes, ch. 2 and 7). All of these from memory; the bound
is ours, by simulation (1500 nights of ten hours each; `run.py prove drift` counts others): of one reading, any change
however small, 0.3 false alarms in a hundred nights where scatter remembers for twenty minutes, 0.1 or none where for
ten or less, 2 where for an hour. What remembers for hours is no scatter to anybody who sees one night of it: there
`least_percent` alone holds it back.
"""

from dataclasses import dataclass
from math import sqrt

import numpy as np
from numpy.typing import NDArray

BLOCK_S = 600.0
BLOCKS_MIN, BLOCKS_MAX = 24, 144  # four hours until the first answer; a day is looked back on
BOUND = 5.5  # standard errors of the slope
_CAUTIOUS = 0.5  # standard errors by which the memory is taken longer than found
_MEMORY_MAX = 0.9  # from one block to the next: beyond it nothing can be said


@dataclass(frozen=True, slots=True)
class Trend:
    """The line through the block means: `percent` of the mean from the first block to the last; `errors`: its slope in
    standard errors; `memory`: correlation from one block to the next, as it is reckoned with."""

    percent: float
    errors: float
    memory: float


def trend(times_s: NDArray[np.float64], means: NDArray[np.float64]) -> Trend | None:
    """Of block means, both shape (blocks,), in the order of time. None: too few, a mean of nothing, or all the same."""
    n = means.size
    middle = float(means.mean())
    if n < BLOCKS_MIN or not middle:
        return None
    x = times_s - times_s.mean()
    spread = float(x @ x)
    slope = float(x @ means) / spread
    off = means - middle - slope * x
    square = float(off @ off)
    percent = 100.0 * slope * float(x[-1] - x[0]) / middle
    if square <= (1e-12 * middle) ** 2 * n:
        return None
    found = float(off[1:] @ off[:-1]) / square
    memory = (n * found + 2.0) / (n - 4.0) + _CAUTIOUS * sqrt((1.0 - min(max(found, 0.0), 1.0) ** 2) / n)
    memory = max(memory, 0.0)
    if memory > _MEMORY_MAX:
        return Trend(percent, 0.0, memory)
    error = sqrt(square / (n - 2) * (1.0 + memory) / (1.0 - memory) / spread)
    return Trend(percent, slope / error, memory)


def drifted(found: Trend | None, sign: int, least_percent: float) -> bool:
    """Whether it moved that way (-1: fell, 1: rose, 0: either), by so much at least, and not by chance."""
    if found is None or abs(found.percent) < least_percent or abs(found.errors) < BOUND:
        return False
    return sign == 0 or found.errors * sign > 0
