"""Stretches of summaries -> columns of a picture: lowest, highest, mean, and how much is to be trusted. Pure.

A column is one stretch of one level, so it is the same however a picture is moved, and nothing of it lies in another.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.runs.log.blocks import Run
from server.runs.log.summary import LENGTHS_S

Floats32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Band:
    """Of one reading, shape (columns,), NaN where there is no value; `trusted`: the share of good ones among all that
    there should be, 0 where all were absent, NaN where nothing came. `bound`: the sign before a last value that is only
    a bound, where that was looked for (`newest.py`)."""

    low: Floats32
    high: Floats32
    mean: Floats32
    trusted: Floats32
    bound: str = ""


@dataclass(frozen=True, slots=True)
class Grid:
    """Stretches of a level from the `first` on."""

    level: int
    first: int
    columns: int

    @property
    def column_s(self) -> float:
        return float(LENGTHS_S[self.level])

    @property
    def from_utc_s(self) -> float:
        return self.first * self.column_s

    @property
    def to_utc_s(self) -> float:
        return (self.first + self.columns) * self.column_s


def grid_of(from_utc_s: float, to_utc_s: float, columns: int) -> Grid:
    """So many columns or up to twice as many, and one at each end; fewer where the shortest stretches are no more."""
    span_s = max(to_utc_s - from_utc_s, 0.0)
    level = max((k for k, length_s in enumerate(LENGTHS_S) if length_s * columns <= span_s), default=0)
    first, behind = int(from_utc_s // LENGTHS_S[level]), int(-(-to_utc_s // LENGTHS_S[level]))
    return Grid(level, first, max(1, behind - first))


class Columns:
    """Of some readings on a grid. `add` stretches in any order."""

    def __init__(self, grid: Grid, ids: Sequence[str]) -> None:
        self.grid, self._ids = grid, tuple(ids)
        shape = len(self._ids), grid.columns
        self._low, self._high = np.full(shape, np.nan, np.float32), np.full(shape, np.nan, np.float32)
        # sums of values, of their number, of good ones, of all that there should be
        self._total, self._count, self._good, self._due = (np.zeros(shape, np.float32) for _ in range(4))

    def add(self, level: int, run: Run) -> None:
        """Stretches of the grid's level, or of one below it; what of them lies beyond the grid is left out."""
        in_one = LENGTHS_S[self.grid.level] // LENGTHS_S[level]
        run = run.within(self.grid.first * in_one, (self.grid.first + self.grid.columns) * in_one)
        column = run.numbers // in_one - self.grid.first
        if in_one == 1:
            self._add(run, column)
            return
        for k, number in enumerate(run.numbers.tolist()):  # one or two: what has not ended yet
            self._add(run.within(number, number + 1), column[k : k + 1])

    def _add(self, run: Run, column: NDArray[np.int64]) -> None:
        """Each stretch into a column of its own."""
        at = {each: k for k, each in enumerate(run.ids)}
        ours = [k for k, each in enumerate(self._ids) if each in at]
        if not ours or not column.size:
            return
        theirs = [at[self._ids[k]] for k in ours]
        mean, counts = run.mean[theirs], (run.count, run.doubtful, run.absent)
        count, doubtful, absent = (each[theirs].astype(np.float32) for each in counts)
        if (run.step > 1).any():
            count, doubtful, absent = count * run.step, doubtful * run.step, absent * run.step
        mean[count == 0.0] = 0.0
        place: Any = np.ix_(np.array(ours), column)
        if len(ours) == len(self._ids) and column[-1] - column[0] + 1 == column.size:
            place = slice(None), slice(int(column[0]), int(column[-1]) + 1)  # much quicker
        self._low[place] = np.fmin(self._low[place], run.low[theirs])
        self._high[place] = np.fmax(self._high[place], run.high[theirs])
        self._total[place] += mean * count
        self._count[place] += count
        self._good[place] += count - doubtful
        self._due[place] += count + absent

    def bands(self) -> dict[str, Band]:
        """What there is of each reading. The last call."""
        with np.errstate(invalid="ignore", divide="ignore"):
            mean = np.divide(self._total, self._count, out=self._total)
            trusted = np.divide(self._good, self._due, out=self._good)
        columns = zip(self._ids, self._low, self._high, mean, trusted, strict=True)
        return {each: Band(*its) for each, *its in columns}
