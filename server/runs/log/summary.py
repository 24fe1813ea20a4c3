"""Lowest, highest and mean of readings over stretches of time on fixed grids, at several lengths. Pure.

Given readings as they come, it gives each stretch when it has ended. A spike of one row stays in lowest and highest of
every length, and each is twice as long as the one before: a picture of any span takes stretches as its columns.
"""

from collections.abc import Iterator, Sequence
from dataclasses import dataclass
from functools import lru_cache

import numpy as np
from numpy.typing import NDArray

LENGTHS_S = tuple(1 << level for level in range(17))  # of the levels: 1 s, 2 s, 4 s ... 18 h
IDS_MAX = 2048  # of one run; a board has some hundred at most, and a run may meet several descriptions
COUNT_MAX = 0xFFFF
_ROOM = 64  # readings, at first
_PLACES_MAX = 256  # sets of readings that come together; a board has some
Floats = NDArray[np.float64]
Counts = NDArray[np.int64]


@dataclass(frozen=True, slots=True)
class Stretch:
    """Of readings `ids` in turn: values are of those that were not absent, NaN where all were.

    `count` values there were, `doubtful` of them doubtful; `absent` times there was none.
    """

    ids: tuple[str, ...]
    low: Floats
    high: Floats
    mean: Floats
    count: Counts
    doubtful: Counts
    absent: Counts

    def pack(self) -> bytes:
        """The bytes of its row. Counts beyond 16 bits are told in steps."""
        most = max(int(self.count.max(initial=0)), int(self.absent.max(initial=0)))
        row = np.zeros(1, row_type(len(self.ids)))
        step = row["step"][0] = max(1, -(-most // COUNT_MAX))
        row["low"], row["high"], row["mean"] = self.low, self.high, self.mean
        for name, counts in (("count", self.count), ("doubtful", self.doubtful), ("absent", self.absent)):
            row[name] = -(-counts // step)
        return row.tobytes()


@lru_cache(maxsize=64)
def row_type(count: int) -> np.dtype[np.void]:
    """How a stretch of so many readings lies in its row."""
    values = [(name, "<f4", (count,)) for name in ("low", "high", "mean")]
    counts = [(name, "<u2", (count,)) for name in ("count", "doubtful", "absent")]
    return np.dtype([("step", "<u4"), *values, *counts])


@dataclass(frozen=True, slots=True)
class Ended:
    """A stretch that has ended: which one of its level, counted from 1970."""

    level: int
    number: int
    stretch: Stretch


class Summaries:
    """All levels of one run. Each is made of the stretches of the one before, as they end."""

    def __init__(self) -> None:
        self._numbers = [-1] * len(LENGTHS_S)  # of the stretches that are open, -1 where none is
        self._open = [_Sums() for _ in LENGTHS_S]
        self._ids: dict[str, int] = {}
        self._places: dict[tuple[str, ...], NDArray[np.intp]] = {}

    def take(self, utc_s: float, stretch: Stretch) -> Iterator[Ended]:
        """What was read at a moment; stretches that it ends. One that came late is given as a stretch of its own."""
        yield from self._add(0, int(utc_s), stretch)

    def resume(self, level: int, number: int, stretch: Stretch) -> None:
        """What an open stretch holds already: of a run that goes on."""
        self._numbers[level] = number
        self._open[level].add(self._places_of(stretch.ids), stretch)

    def end(self) -> Iterator[Ended]:
        """All that is open."""
        for level in range(len(LENGTHS_S)):
            yield from self._end(level)
            self._numbers[level] = -1

    def _add(self, level: int, at_s: int, stretch: Stretch) -> Iterator[Ended]:
        number = at_s // LENGTHS_S[level]
        if number < self._numbers[level]:
            yield from self._told(level, number, stretch)
            return
        if number > self._numbers[level]:
            yield from self._end(level)
            self._numbers[level] = number
        self._open[level].add(self._places_of(stretch.ids), stretch)

    def _end(self, level: int) -> Iterator[Ended]:
        stretch = self._open[level].take(tuple(self._ids))
        if stretch is not None:
            yield from self._told(level, self._numbers[level], stretch)

    def _told(self, level: int, number: int, stretch: Stretch) -> Iterator[Ended]:
        yield Ended(level, number, stretch)
        if level + 1 < len(LENGTHS_S):
            yield from self._add(level + 1, number * LENGTHS_S[level], stretch)

    def _places_of(self, ids: tuple[str, ...]) -> NDArray[np.intp]:
        """Where these readings stand in the sums; beyond the limit all share one place that is never told."""
        known = self._places.get(ids)
        if known is None:
            for each in ids:
                if len(self._ids) < IDS_MAX:
                    self._ids.setdefault(each, len(self._ids))
            if len(self._places) >= _PLACES_MAX:
                self._places.clear()
            known = self._places[ids] = np.array([self._ids.get(each, IDS_MAX) for each in ids], np.intp)
        return known


class _Sums:
    """Of one stretch that is open."""

    def __init__(self) -> None:
        self._room = 0
        self._low = self._high = self._sum = np.zeros(0)
        self._counts = np.zeros((3, 0), np.int64)
        self._grow(_ROOM)

    def add(self, places: NDArray[np.intp], its: Stretch) -> None:
        while places.max(initial=0) >= self._room:
            self._grow(4 * self._room)
        self._low[places] = np.fmin(self._low[places], its.low)
        self._high[places] = np.fmax(self._high[places], its.high)
        self._sum[places] += np.where(its.count > 0, its.mean, 0.0) * its.count
        self._counts[:, places] += (its.count, its.doubtful, its.absent)

    def take(self, ids: tuple[str, ...]) -> Stretch | None:
        """The sums of those that came, which begin anew; None where nothing came."""
        count, doubtful, absent = self._counts[:, : len(ids)]
        came = np.flatnonzero(count[: self._room] + absent[: self._room])
        if not came.size:
            return None
        mean = np.full(came.size, np.nan)
        np.divide(self._sum[came], count[came], out=mean, where=count[came] > 0)
        its = tuple(ids[k] for k in came)
        stretch = Stretch(its, self._low[came], self._high[came], mean, count[came], doubtful[came], absent[came])
        self._low[:], self._high[:] = np.nan, np.nan
        self._sum[:], self._counts[:] = 0.0, 0
        return stretch

    def _grow(self, room: int) -> None:
        more = room - self._room
        nothing = np.full(more, np.nan)
        self._low, self._high = np.append(self._low, nothing), np.append(self._high, nothing)
        self._sum = np.append(self._sum, np.zeros(more))
        self._counts = np.append(self._counts, np.zeros((3, more), np.int64), axis=1)
        self._room = room


def joined(stretches: Sequence[Stretch]) -> Stretch:
    """Several stretches as one."""
    sums, ids = _Sums(), dict[str, int]()
    for stretch in stretches:
        places = [ids.setdefault(each, len(ids)) for each in stretch.ids]
        sums.add(np.array(places, np.intp), stretch)
    return sums.take(tuple(ids)) or stretches[0]
