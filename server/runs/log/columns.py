"""Stretches of summaries -> columns of a picture: lowest, highest, mean, and how much is to be trusted. Pure."""

from collections.abc import Sequence
from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.runs.log.summary import LENGTHS_S, row_type

Floats32 = NDArray[np.float32]


@dataclass(frozen=True, slots=True)
class Band:
    """Of one reading, shape (columns,), NaN where there is no value; `trusted`: the share of good ones among all that
    there should be, 0 where all were absent, NaN where nothing came."""

    low: Floats32
    high: Floats32
    mean: Floats32
    trusted: Floats32


@dataclass(frozen=True, slots=True)
class Grid:
    """Columns of equal width from a moment on, and the level of the summaries that they are made of."""

    from_utc_s: float
    column_s: float
    columns: int
    level: int

    @property
    def to_utc_s(self) -> float:
        return self.from_utc_s + self.column_s * self.columns


def grid_of(from_utc_s: float, to_utc_s: float, columns: int) -> Grid:
    """As many columns as are wanted, or fewer: none is shorter than the shortest stretch."""
    span_s = max(to_utc_s - from_utc_s, LENGTHS_S[0])
    columns = max(1, min(columns, int(span_s / LENGTHS_S[0])))
    column_s = span_s / columns
    level = max((k for k, length_s in enumerate(LENGTHS_S) if length_s <= column_s), default=0)
    return Grid(from_utc_s, column_s, columns, level)


class Columns:
    """Of some readings on a grid. `add` rows in any order."""

    def __init__(self, grid: Grid, ids: Sequence[str]) -> None:
        self.grid, self._ids = grid, tuple(ids)
        shape = grid.columns, len(self._ids)
        self._low, self._high = np.full(shape, np.nan, np.float32), np.full(shape, np.nan, np.float32)
        self._sum, self._counts = np.zeros(shape), np.zeros((3, *shape), np.int64)

    def add(self, level: int, numbers: Sequence[int], ids: Sequence[str], data: bytes) -> None:
        """Rows of stretches of one level, one behind the other, all of these readings; their numbers rise.

        Raises ValueError where the bytes do not fit.
        """
        rows = np.frombuffer(data, row_type(len(ids)))
        if len(rows) != len(numbers):
            raise ValueError(f"{len(data)} bytes for {len(numbers)} stretches of {len(ids)} readings")
        at = {each: k for k, each in enumerate(ids)}
        wanted = [(k, at[each]) for k, each in enumerate(self._ids) if each in at]
        if not wanted or not len(rows):
            return
        ours, theirs = (np.array(places) for places in zip(*wanted, strict=True))
        begins_s = np.array(numbers, np.int64) * LENGTHS_S[level] - self.grid.from_utc_s
        column = np.clip((begins_s / self.grid.column_s).astype(np.int64), 0, self.grid.columns - 1)
        first = np.flatnonzero(np.diff(column, prepend=-1))
        place = np.ix_(column[first], ours)
        self._low[place] = np.fmin(self._low[place], np.fmin.reduceat(rows["low"][:, theirs], first))
        self._high[place] = np.fmax(self._high[place], np.fmax.reduceat(rows["high"][:, theirs], first))
        step = rows["step"][:, None]
        count = rows["count"][:, theirs] * step
        sums = np.nan_to_num(rows["mean"][:, theirs]) * count
        self._sum[place] += np.add.reduceat(sums, first, dtype=np.float64)
        for k, counts in enumerate((count, rows["doubtful"][:, theirs] * step, rows["absent"][:, theirs] * step)):
            self._counts[k][place] += np.add.reduceat(counts, first, dtype=np.int64)

    def bands(self) -> dict[str, Band]:
        """What there is of each reading."""
        count, doubtful, absent = self._counts
        with np.errstate(invalid="ignore", divide="ignore"):
            mean, trusted = self._sum / count, (count - doubtful) / (count + absent)
        columns = (each.T.astype(np.float32) for each in (self._low, self._high, mean, trusted))
        return {each: Band(*its) for each, *its in zip(self._ids, *columns, strict=True)}
