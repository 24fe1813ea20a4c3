"""A quantity of a run from end to end as at most so many columns, however long the run was. Pure."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray


@dataclass(frozen=True, slots=True)
class Columns:
    """Columns of `column_s` seconds from `from_utc_s` on; NaN where nothing came."""

    from_utc_s: float
    column_s: float
    low: NDArray[np.float64]
    high: NDArray[np.float64]
    mean: NDArray[np.float64]


class Band:
    """Give it rows as they come; where columns run out they are joined, two by two.

    `column_s`: of its first columns, not shorter than its rows are apart.
    """

    def __init__(self, columns_max: int, column_s: float) -> None:
        self._from_s: float | None = None
        self._column_s = column_s
        self._low, self._high = np.full(columns_max, np.nan), np.full(columns_max, np.nan)
        self._sum, self._count = np.zeros(columns_max), np.zeros(columns_max)

    def take(self, utc_s: NDArray[np.float64], values: NDArray[np.float64]) -> None:
        """Rows: when each ended, UTC seconds, and its value; NaN where there is none."""
        known = np.isfinite(values) & np.isfinite(utc_s)
        utc_s, values = utc_s[known], values[known]
        if not utc_s.size:
            return
        if self._from_s is None:
            self._from_s = float(utc_s[0])
        while (utc_s.max() - self._from_s) / self._column_s >= self._low.size:
            self._join()
        # A clock that was found to be off moves rows a little: none leaves the picture for it.
        at = np.maximum(((utc_s - self._from_s) / self._column_s).astype(np.intp), 0)
        np.fmin.at(self._low, at, values)
        np.fmax.at(self._high, at, values)
        np.add.at(self._sum, at, values)
        np.add.at(self._count, at, 1.0)

    def _join(self) -> None:
        for band, joined in (
            (self._low, np.fmin),
            (self._high, np.fmax),
            (self._sum, np.add),
            (self._count, np.add),
        ):
            pairs = joined(band[::2], band[1::2])
            band[:] = np.nan if joined is not np.add else 0.0
            band[: pairs.size] = pairs
        self._column_s *= 2

    def columns(self) -> Columns | None:
        """Up to the last one in which something came; None where nothing did."""
        if self._from_s is None:
            return None
        shown = slice(0, int(np.flatnonzero(self._count)[-1]) + 1)
        with np.errstate(invalid="ignore"):
            mean = self._sum[shown] / self._count[shown]
        return Columns(self._from_s, self._column_s, self._low[shown].copy(), self._high[shown].copy(), mean)
