"""The current of a run from end to end as a band of at most so many columns, however long the run was. Pure."""

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

COLUMNS_MAX = 600
FIRST_COLUMN_S = 0.1
DIGITS = 4  # significant ones: more than a line on a screen shows


class Overview:
    """Give it rows in the order in which they came; columns that fill up are joined, two by two."""

    def __init__(self) -> None:
        self._from_s: float | None = None
        self._column_s = FIRST_COLUMN_S
        self._low = np.full(COLUMNS_MAX, np.nan)
        self._high = np.full(COLUMNS_MAX, np.nan)
        self._count = 0

    def take(self, utc_s: NDArray[np.float64], values: NDArray[np.float64]) -> None:
        """Rows: when each ended, UTC seconds, and its value; NaN where there is none."""
        known = ~np.isnan(values) & np.isfinite(utc_s)
        utc_s, values = utc_s[known], values[known]
        if not utc_s.size:
            return
        if self._from_s is None:
            self._from_s = float(utc_s[0])
        while (utc_s.max() - self._from_s) / self._column_s >= COLUMNS_MAX:
            self._join()
        # A clock that was found to be off moves rows a little: none leaves the picture for it.
        at = np.maximum(((utc_s - self._from_s) / self._column_s).astype(np.intp), 0)
        np.fmin.at(self._low, at, values)
        np.fmax.at(self._high, at, values)
        self._count = max(self._count, int(at.max()) + 1)

    def _join(self) -> None:
        for band, least in ((self._low, True), (self._high, False)):
            pairs = (np.fmin if least else np.fmax)(band[::2], band[1::2])
            band[:] = np.nan
            band[: pairs.size] = pairs
        self._column_s *= 2
        self._count = (self._count + 1) // 2

    def record(self) -> dict[str, Any] | None:
        """`from_utc_s`, `column_s`, `low` and `high`, one value a column, None where nothing came; None: no current."""
        if self._from_s is None:
            return None
        shown = slice(0, self._count)
        low, high = rounded(self._low[shown]), rounded(self._high[shown])
        return {"from_utc_s": round(self._from_s, 3), "column_s": self._column_s, "low": low, "high": high}


def rounded(values: NDArray[np.float64]) -> list[float | None]:
    """Numbers as they are kept: a few significant digits, None for what is none."""
    return [float(f"{value:.{DIGITS}g}") if math.isfinite(value) else None for value in values.tolist()]
