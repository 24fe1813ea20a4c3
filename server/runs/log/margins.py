"""What the readings of one instant may be off by, and its lists -> the bytes of their rows, and back. Pure.

RUN.md, "The log", is the authority. All of it is kept as float32: an interval is never known to seven digits, and a
list of harmonics not either.
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import isnan, nan
from typing import Any

import numpy as np
from numpy.typing import NDArray

from server.readings import Confidence, Reading
from server.runs.log.packed import CONFIDENCES, LISTS, MARKS

NONE, HALF, CUT = 0, 1, 2  # beside each reading: no interval, one that is symmetric, one that a bound cuts
CUT_SHARE = 1e-6  # of its half width: a middle that is farther from the value is no rounding


@dataclass(frozen=True, slots=True)
class Margins:
    """Of some readings, shape (rows, readings), NaN where there is none: half the width of the interval, and where a
    bound cuts it how far its ends are below and above the value."""

    half: NDArray[np.float64]
    below: NDArray[np.float64]
    above: NDArray[np.float64]


def margins_of(reading: Reading) -> tuple[float, float, float] | None:
    """Half width, and how far the ends are below and above the value, these NaN where no bound cuts the interval.
    None: it is not known, or of words or a list."""
    its, value = reading.uncertainty, reading.value
    if its is None or its.halves or value is None or isinstance(value, str | tuple):
        return None
    half = its.half
    if isinstance(value, float) and abs(its.high + its.low - 2.0 * value) > CUT_SHARE * half:
        return half, value - its.low, its.high - value
    return half, nan, nan


def packed_margins(readings: Sequence[Reading]) -> bytes:
    """The row of one instant, its lists left out: a mark each, half widths, distances of the ends below and above."""
    marks, halves, below, above = bytearray(), list[float](), list[float](), list[float]()
    for reading in readings:
        if is_list(reading):
            continue
        its = margins_of(reading)
        if its is None:
            marks.append(NONE)
            continue
        halves.append(its[0])
        marks.append(HALF if isnan(its[1]) else CUT)
        if not isnan(its[1]):
            below.append(its[1])
            above.append(its[2])
    return bytes(marks) + single([*halves, *below, *above]).tobytes()


def single(values: Sequence[float]) -> NDArray[np.float32]:
    """Numbers as they are kept; what no float32 holds is infinite."""
    with np.errstate(over="ignore"):
        return np.array(values, np.float64).astype("<f4")


def unpacked_margins(count: int, rows: Sequence[bytes | memoryview]) -> Margins:
    """Of rows of so many readings each. Raises ValueError for bytes that are none."""
    marks = np.frombuffer(b"".join(each[:count] for each in rows), np.uint8).reshape(len(rows), count)
    halves, cuts = marks >= HALF, marks == CUT
    numbers, ends = halves.sum(axis=1), cuts.sum(axis=1)
    lengths = np.array([len(each) for each in rows])
    if (marks > CUT).any() or not np.array_equal(lengths, count + 4 * (numbers + 2 * ends)):
        raise ValueError(f"{len(rows)} rows of what {count} readings may be off by do not fit their marks")
    values = np.frombuffer(b"".join(each[count:] for each in rows), "<f4").astype(np.float64)
    which = np.repeat(  # each row: its half widths, its distances below, those above
        np.tile(np.arange(3), len(rows)), np.stack((numbers, ends, ends), axis=1).ravel()
    )
    found = [np.full(marks.shape, np.nan) for _ in range(3)]
    for k, (into, there) in enumerate(zip(found, (halves, cuts, cuts), strict=True)):
        into[there] = values[which == k]
    return Margins(*found)


def is_list(reading: Reading) -> bool:
    """Whether it has several values, or would have them."""
    return isinstance(reading.value, tuple) or reading.key in LISTS


def packed_lists(readings: Sequence[Reading], number_of: Callable[[str], int]) -> tuple[tuple[str, ...], bytes]:
    """The ids of the lists of an instant and their row: a mark each, lengths, reasons, values."""
    lists = [each for each in readings if is_list(each)]
    marks = bytes(MARKS[each.confidence] for each in lists)
    values = [each.value if isinstance(each.value, tuple) else () for each in lists]
    lengths = np.array([len(each) for each in values], "<u2").tobytes()
    reasons = np.array([number_of(each.reason) for each in lists if each.reason], "<u4").tobytes()
    numbers = single([x for each in values for x in each]).tobytes()
    return tuple(each.id for each in lists), marks + lengths + reasons + numbers


def list_reasons(ids: str, data: bytes | memoryview) -> NDArray[np.uint32]:
    """The numbers of the reasons in a row of lists. Raises ValueError for bytes that are none."""
    count = ids.count("\n") + 1
    doubted = count - bytes(data[:count]).count(0)
    return np.frombuffer(data[3 * count : 3 * count + 4 * doubted], "<u4")


def unpacked_lists(
    ids: Sequence[str], data: bytes | memoryview, text_of: Callable[[int], str]
) -> list[tuple[str, tuple[float, ...] | None, Confidence, str]]:
    """Id, values, confidence and reason of each list. Raises ValueError for bytes that are none."""
    count = len(ids)
    marks, lengths = bytes(data[:count]), np.frombuffer(data[count : 3 * count], "<u2").tolist()
    behind = 3 * count + 4 * sum(mark != 0 for mark in marks)
    if any(mark > 2 for mark in marks) or len(data) != behind + 4 * sum(lengths):
        raise ValueError(f"{len(data)} bytes for {count} lists")
    said = iter(np.frombuffer(data[3 * count : behind], "<u4").tolist())
    values, at, found = np.frombuffer(data[behind:], "<f4").tolist(), 0, list[Any]()
    for its_id, mark, length in zip(ids, marks, lengths, strict=True):
        confidence = CONFIDENCES[mark]
        its = None if confidence is Confidence.ABSENT else tuple(values[at : at + length])
        found.append((its_id, its, confidence, text_of(next(said)) if mark else ""))
        at += length
    return found
