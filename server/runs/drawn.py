"""Voltage, current and speed of a run from end to end, of its rows of 10 ms, as a report draws them. Pure."""

import math
from typing import Any

import numpy as np

from server.pipeline import Output
from server.runs.band import Band, Columns
from server.runs.overview import rounded

COLUMNS_MAX = 720
FIRST_COLUMN_S = 0.05
DIGITS = 5  # significant ones that are kept: more than a drawing and its scale show
_ENDS = ("low", "high", "mean")


class Drawn:
    """Give it the parts of outputs in turn. Speeds are drawn without their sign."""

    def __init__(self) -> None:
        self._bands = {name: Band(COLUMNS_MAX, FIRST_COLUMN_S) for name in ("current", "speed", "voltage")}

    def take(self, part: Output) -> None:
        """Its rows."""
        for fast in part.fast:
            if not fast.board_s.size:
                continue
            first_s = float(fast.board_s[0])
            utc_s = part.clock.utc_s(first_s) + (fast.board_s - first_s)
            self._bands["voltage"].take(utc_s, fast.voltage_v)
            self._bands["current"].take(utc_s, fast.current_a)
            self._bands["speed"].take(utc_s, np.abs(fast.speed_rpm))

    def columns(self) -> dict[str, Columns]:
        """Of those in which something came."""
        found = {name: band.columns() for name, band in self._bands.items()}
        return {name: its for name, its in found.items() if its is not None}

    def record(self) -> dict[str, Any]:
        """The same, ready for JSON; None where a column has nothing."""
        return {
            name: {
                "from_utc_s": its.from_utc_s,
                "column_s": its.column_s,
                **{end: rounded(getattr(its, end), DIGITS) for end in _ENDS},
            }
            for name, its in self.columns().items()
        }


def columns_of(record: dict[str, Any]) -> dict[str, Columns]:
    """The columns of a record. Raises KeyError, TypeError or ValueError for another."""
    return {
        name: Columns(
            float(its["from_utc_s"]),
            float(its["column_s"]),
            *(np.array([math.nan if each is None else each for each in its[end]], np.float64) for end in _ENDS),
        )
        for name, its in record.items()
    }
