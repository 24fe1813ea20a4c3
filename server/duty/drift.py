"""Whether a figure drifts from cycle to cycle, by how much a cycle, and how sure that is. Pure functions.

Theil's slope, the median of the slopes of all pairs, with Sen's interval (Sen, J. Am. Stat. Assoc. 63 (1968) 1379);
whether it is no chance by Mann and Kendall's test of trend. Figures of neighbouring cycles are alike, as a warm motor
draws less: the variance of that test is made as much larger as the ranks' own correlation asks for (Hamed and Rao, J.
Hydrol. 204 (1998) 182). A trend that is no straight line leaves what looks like correlation; so the signs of the steps
from cycle to cycle are asked too, which a walk has at random (P. J. Brockwell and R. A. Davis, Time Series, 1.6). The
smaller chance of the two counts twice, as two were tried. All formulas from memory, and held against an independent
library in the tests.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import erfc, sqrt

import numpy as np
from numpy.typing import NDArray

from server.quantities.uncertainty import NORMAL_95

FEWEST = 10  # cycles: the test's normal approximation asks for as many
POINTS_MAX = 600  # pairs grow by the square; more are thinned evenly, which leaves the slope what it is
_CORRELATION_MAX = 0.99  # of neighbours: beyond it is no telling a walk from a trend
LAGS_SHARE = 4  # correlation is looked for over a quarter of the cycles at most


@dataclass(frozen=True, slots=True)
class Drift:
    """`slope` per cycle in the figure's unit, between `low` and `high` in 95 % of cases; `chance`: how often as much of
    a trend comes of nothing (two-sided). `cycles`: of how many. `inflation`: of the variance, by correlation."""

    slope: float
    low: float
    high: float
    chance: float
    cycles: int
    inflation: float

    @property
    def significant(self) -> bool:
        """It comes of nothing in less than 1 % of cases, and its interval does not hold 0: many figures are asked."""
        return self.chance < 0.01 and not self.low <= 0.0 <= self.high


def drift_of(numbers: Sequence[float], values: Sequence[float]) -> Drift | None:
    """Of a figure over the numbers of cycles, both (n,), rising; None for fewer than FEWEST."""
    x, y = np.asarray(numbers, np.float64), np.asarray(values, np.float64)
    count = x.shape[0]
    if count < FEWEST:
        return None
    if count > POINTS_MAX:
        at = np.unique(np.linspace(0, count - 1, POINTS_MAX).round().astype(np.int64))
        x, y = x[at], y[at]
    upper = np.triu_indices(x.shape[0], 1)
    steps, differences = x[upper[1]] - x[upper[0]], y[upper[1]] - y[upper[0]]
    slopes = np.sort(differences / steps)
    slope = float(np.median(slopes))
    kendall = float(np.sign(differences).sum())
    inflation = _inflation(y - slope * x)
    variance = _variance(y) * inflation
    low, high = _interval(slopes, variance)
    deviation = sqrt(variance)
    standard = max(abs(kendall) - 1.0, 0.0) / deviation if deviation > 0.0 else 0.0
    chance = min(2.0 * min(erfc(standard / sqrt(2.0)), _chance_of_steps(np.diff(y))), 1.0)
    return Drift(slope, low, high, chance, count, inflation)


def _chance_of_steps(steps: NDArray[np.float64]) -> float:
    """How often so many of them go one way by chance, two-sided: of fair coins, as a normal distribution."""
    moved = int(np.count_nonzero(steps))
    ups = int(np.count_nonzero(steps > 0.0))
    return erfc(max(abs(2 * ups - moved) - 1, 0) / sqrt(2.0 * moved)) if moved else 1.0


def _variance(y: NDArray[np.float64]) -> float:
    """Of Kendall's sum where there is no trend, less what ties take."""
    n, ties = y.shape[0], np.unique(y, return_counts=True)[1].astype(np.float64)
    return float(n * (n - 1) * (2 * n + 5) - (ties * (ties - 1) * (2 * ties + 5)).sum()) / 18.0


def _interval(slopes: NDArray[np.float64], variance: float) -> tuple[float, float]:
    """The slopes at the ranks that lie NORMAL_95 deviations of Kendall's sum from the middle."""
    half, last = NORMAL_95 * sqrt(variance), slopes.shape[0] - 1
    low, high = round((slopes.shape[0] - half) / 2.0) - 1, round((slopes.shape[0] + half) / 2.0)
    return float(slopes[max(low, 0)]), float(slopes[min(high, last)])


def _inflation(left: NDArray[np.float64]) -> float:
    """How much larger the variance is by the correlation of the ranks of what the trend leaves; 1 at least.

    Only lags whose correlation stands out of 95 % of noise count. Taking off a trend takes correlation along: of
    neighbours it is put back (Kendall, Biometrika 41 (1954) 403), and where each leans on the one before alone that
    makes (1 + r) / (1 - r). The larger of the two holds.
    """
    n = left.shape[0]
    ranks = _ranks(left)
    centred = ranks - ranks.mean()
    power = float(centred @ centred)
    if power <= 0.0:
        return 1.0
    stands_out, total = NORMAL_95 / sqrt(n), 0.0
    first = float(centred[:-1] @ centred[1:]) / power
    neighbours = min((n * first + 2.0) / (n - 4.0), _CORRELATION_MAX) if first > stands_out else 0.0
    for lag in range(1, n // LAGS_SHARE):
        correlation = float(centred[:-lag] @ centred[lag:]) / power
        if abs(correlation) > stands_out:
            total += (n - lag) * (n - lag - 1) * (n - lag - 2) * correlation
    spread = 1.0 + 2.0 * total / (n * (n - 1) * (n - 2))
    return float(max(spread, (1.0 + neighbours) / (1.0 - neighbours), 1.0))


def _ranks(values: NDArray[np.float64]) -> NDArray[np.float64]:
    """From 1 on; values that are equal share the mean of their ranks."""
    _, place, counts = np.unique(values, return_inverse=True, return_counts=True)
    ends = np.cumsum(counts)
    shared: NDArray[np.float64] = (ends - 0.5 * (counts - 1))[place]
    return shared
