"""The current of a run from end to end, as its digest keeps it: a band of few columns and few digits. Pure."""

import math
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.runs.band import Band

COLUMNS_MAX = 600
FIRST_COLUMN_S = 0.1
DIGITS = 4  # significant ones: more than a line on a screen shows


class Overview:
    """Give it rows in the order in which they came."""

    def __init__(self) -> None:
        self._band = Band(COLUMNS_MAX, FIRST_COLUMN_S)

    def take(self, utc_s: NDArray[np.float64], values: NDArray[np.float64]) -> None:
        """Rows: when each ended, UTC seconds, and its value; NaN where there is none."""
        self._band.take(utc_s, values)

    def record(self) -> dict[str, Any] | None:
        """`from_utc_s`, `column_s`, `low` and `high`, one value a column, None where nothing came; None: no current."""
        its = self._band.columns()
        if its is None:
            return None
        low, high = rounded(its.low), rounded(its.high)
        return {"from_utc_s": round(its.from_utc_s, 3), "column_s": its.column_s, "low": low, "high": high}


def rounded(values: NDArray[np.float64], digits: int = DIGITS) -> list[float | None]:
    """Numbers as they are kept: a few significant digits, None for what is none."""
    return [float(f"{value:.{digits}g}") if math.isfinite(value) else None for value in values.tolist()]
