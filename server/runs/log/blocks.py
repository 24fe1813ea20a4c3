"""Many stretches of one level in one row, those of a reading in turn: what a picture of a night is read from. Pure."""

from collections.abc import Mapping, Sequence
from dataclasses import dataclass
from functools import lru_cache
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.runs.log.summary import COUNT_MAX, Stretch, row_type

BLOCK = 256  # stretches
_VALUES = ("low", "high", "mean")
_COUNTS = ("count", "doubtful", "absent")


@dataclass(frozen=True, slots=True)
class Run:
    """Stretches `numbers` (rising) of readings `ids`: arrays of shape (ids, numbers); counts are told in `step`s."""

    numbers: NDArray[np.int64]
    ids: tuple[str, ...]
    step: NDArray[np.uint32]  # shape (numbers,)
    low: NDArray[np.float32]
    high: NDArray[np.float32]
    mean: NDArray[np.float32]
    count: NDArray[np.uint16]
    doubtful: NDArray[np.uint16]
    absent: NDArray[np.uint16]

    @property
    def newest(self) -> int:
        """The number of the last stretch in which anything came; -1 where in none."""
        came = np.flatnonzero((self.count | self.absent).any(axis=0))
        return int(self.numbers[came[-1]]) if came.size else -1

    def within(self, first: int, behind: int) -> "Run":
        """Its stretches from `first` on, `behind` excluded."""
        part = slice(*np.searchsorted(self.numbers, (first, behind)).tolist())
        fields: list[Any] = [getattr(self, name)[:, part] for name in (*_VALUES, *_COUNTS)]
        return Run(self.numbers[part], self.ids, self.step[part], *fields)

    def stretches(self) -> dict[int, Stretch]:
        """Each by its number, of the readings that it had."""
        found = {}
        for k, number in enumerate(self.numbers.tolist()):
            had = np.flatnonzero(self.count[:, k] | self.absent[:, k])
            if had.size:
                its: list[Any] = [getattr(self, name)[had, k].astype(np.float64) for name in _VALUES]
                its += [getattr(self, name)[had, k].astype(np.int64) * int(self.step[k]) for name in _COUNTS]
                found[number] = Stretch(tuple(self.ids[each] for each in had), *its)
        return found


@lru_cache(maxsize=64)
def block_type(count: int) -> np.dtype[np.void]:
    """How a block of so many readings lies in its row."""
    values = [(name, "<f4", (count, BLOCK)) for name in _VALUES]
    counts = [(name, "<u2", (count, BLOCK)) for name in _COUNTS]
    return np.dtype([("step", "<u4"), *values, *counts])


def packed_block(first: int, stretches: Mapping[int, Stretch]) -> tuple[tuple[str, ...], bytes]:
    """The ids and the bytes of a block whose first stretch has this number; one that is not given had nothing."""
    ids = tuple(dict.fromkeys(each for stretch in stretches.values() for each in stretch.ids))
    at = {each: k for k, each in enumerate(ids)}
    most = max(max(int(its.count.max()), int(its.absent.max())) for its in stretches.values())
    row = np.zeros(1, block_type(len(ids)))
    step = max(1, -(-most // COUNT_MAX))
    row["step"] = step
    for name in _VALUES:
        row[name] = np.nan
    for number, its in stretches.items():
        places = [at[each] for each in its.ids]
        for name in _VALUES:
            row[name][0, places, number - first] = getattr(its, name)
        for name in _COUNTS:
            row[name][0, places, number - first] = -(-getattr(its, name) // step)
    return ids, row.tobytes()


def of_block(first: int, ids: tuple[str, ...], data: bytes | memoryview) -> Run:
    """What a block holds. Raises ValueError for bytes that are none."""
    if len(data) != block_type(len(ids)).itemsize:
        raise ValueError(f"{len(data)} bytes for a block of {len(ids)} readings")
    row = np.frombuffer(data, block_type(len(ids)))[0]
    fields: list[Any] = [row[name] for name in (*_VALUES, *_COUNTS)]
    return Run(first + np.arange(BLOCK), ids, np.full(BLOCK, row["step"]), *fields)


def of_rows(numbers: Sequence[int], ids: tuple[str, ...], rows: Sequence[bytes | memoryview]) -> Run:
    """What single stretches hold, all of these readings. Raises ValueError for bytes that are none."""
    data = b"".join(rows)
    if len(data) != row_type(len(ids)).itemsize * len(numbers):
        raise ValueError(f"{len(data)} bytes for {len(numbers)} stretches of {len(ids)} readings")
    table = np.frombuffer(data, row_type(len(ids)))
    fields: list[Any] = [table[name].T for name in (*_VALUES, *_COUNTS)]
    return Run(np.array(numbers, np.int64), ids, table["step"], *fields)
