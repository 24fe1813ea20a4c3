"""A quantity of a run from end to end: mean, lowest, highest of at most so many columns, however long it was. Pure."""

import numpy as np
from numpy.typing import NDArray

from server.report.report import Trend

COLUMNS_MAX = 720
FIRST_COLUMN_S = 0.05


class Band:
    """Give it rows as they come; where columns run out they are joined, two by two.

    `column_s`: of its first columns, not shorter than its rows are apart.
    """

    def __init__(self, column_s: float = FIRST_COLUMN_S) -> None:
        self._from_s: float | None = None
        self._column_s = column_s
        self._low = np.full(COLUMNS_MAX, np.nan)
        self._high = np.full(COLUMNS_MAX, np.nan)
        self._sum, self._count = np.zeros(COLUMNS_MAX), np.zeros(COLUMNS_MAX)

    def take(self, utc_s: NDArray[np.float64], values: NDArray[np.float64]) -> None:
        """Rows: when each ended, UTC seconds, and its value; NaN where there is none."""
        known = np.isfinite(values) & np.isfinite(utc_s)
        utc_s, values = utc_s[known], values[known]
        if not utc_s.size:
            return
        if self._from_s is None:
            self._from_s = float(utc_s[0])
        while (utc_s.max() - self._from_s) / self._column_s >= COLUMNS_MAX:
            self._join()
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

    def trend(self, label: str, unit: str, kind: str) -> Trend | None:
        """None where nothing came."""
        (there,) = np.nonzero(self._count)
        if self._from_s is None or not there.size:
            return None
        shown = slice(0, int(there[-1]) + 1)
        with np.errstate(invalid="ignore"):
            mean = self._sum[shown] / self._count[shown]
        low, high = self._low[shown].copy(), self._high[shown].copy()
        return Trend(label, unit, kind, self._from_s, self._column_s, mean, low, high)
