"""Readings of one instant -> the bytes of a row, and back. Pure; RUN.md, "The log", is the authority.

Lists (harmonics, groups) and what readings may be off by have rows of their own (`margins.py`).
"""

from collections.abc import Callable, Sequence
from dataclasses import dataclass
from math import nan
from struct import Struct

from server.quantities import NO_LIMITS
from server.readings import Confidence, Reading

WORD = 0x80  # beside the confidence: the value is the number of a word
CONFIDENCES = (Confidence.GOOD, Confidence.DOUBTFUL, Confidence.ABSENT)
MARKS = {confidence: mark for mark, confidence in enumerate(CONFIDENCES)}
LISTS = frozenset(key for key, what in NO_LIMITS.items() if what == "a list")


@dataclass(frozen=True, slots=True)
class Packed:
    """A row. `ids`, `values` and `marks` are of its readings in turn; the value of an absent one is NaN."""

    ids: tuple[str, ...]
    values: list[float]
    marks: list[int]
    data: bytes


def packed(readings: Sequence[Reading], number_of: Callable[[str], int]) -> Packed:
    """The row of one instant. `number_of` gives the number of a text, of words and reasons alike."""
    ids, values, marks, reasons = list[str](), list[float](), list[int](), list[int]()
    for reading in readings:
        value, mark = reading.value, MARKS[reading.confidence]
        if isinstance(value, tuple) or reading.key in LISTS:
            continue
        if isinstance(value, str):
            value, mark = number_of(value), mark | WORD
        ids.append(reading.id)
        values.append(nan if value is None else float(value))
        marks.append(mark)
        if reading.reason:
            reasons.append(number_of(reading.reason))
    data = _form(len(ids), len(reasons)).pack(*values, *marks, *reasons)
    return Packed(tuple(ids), values, marks, data)


def unpacked(ids: Sequence[str], data: bytes | memoryview, text_of: Callable[[int], str]) -> list[Reading]:
    """The readings of a row. Raises ValueError for bytes that are none."""
    count = len(ids)
    reasons, left = divmod(len(data) - 9 * count, 4)
    if reasons < 0 or left:
        raise ValueError(f"{len(data)} bytes for {count} readings")
    fields = _form(count, reasons).unpack(data)
    values, marks, said = fields[:count], fields[count : 2 * count], iter(fields[2 * count :])
    if sum(mark & ~WORD != 0 for mark in marks) != reasons or any(mark & ~WORD > 2 for mark in marks):
        raise ValueError(f"{reasons} reasons do not fit the marks")
    found = []
    for its_id, value, mark in zip(ids, values, marks, strict=True):
        key, _, place = its_id.partition(".")
        confidence = CONFIDENCES[mark & ~WORD]
        reason = text_of(next(said)) if mark & ~WORD else ""
        told = None if confidence is Confidence.ABSENT else text_of(int(value)) if mark & WORD else value
        found.append(Reading(key, told, confidence, reason, place))
    return found


def _form(count: int, reasons: int) -> Struct:
    return Struct(f"<{count}d{count}B{reasons}I")
