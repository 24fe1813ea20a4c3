"""Cyclic duration factor and starts per hour, of cycles and of plain times of being on. Pure.

Only cycles count that are known whole: one that a gap touches, or that has not ended, is left out and said to be.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from itertools import pairwise
from math import hypot, sqrt

from server.duty.cycle import Begun, Bound, Cycle, Figure
from server.quantities.uncertainty import coverage_factor

HOUR_S = 3600.0
FEWEST = 2  # cycles: one alone has no scatter


@dataclass(frozen=True, slots=True)
class Usage:
    """`duration_factor` in per cent: on-time over on-time and off-time (IEC 60034-1, 3.4.5 "cyclic duration factor",
    from memory; starting and electric braking count as on). `starts_per_hour`: 3600 over the mean time from start to
    start. `whole`: cycles they are made of; `left_out`: those that are not known whole."""

    duration_factor: Figure
    starts_per_hour: Figure
    whole: int
    left_out: int


def usage_of(cycles: Sequence[Cycle]) -> Usage:
    """Over a run of cycles. Intervals are from the scatter of the cycles (JCGM 100, 4.2, G.3: mean and Student's t), of
    the factor also from what each on-time may be off by, which is the same way in all of them."""
    whole = [each for each in cycles if is_whole(each)]
    on = [each.figures["on_time_s"].value or 0.0 for each in whole]
    off = [each.figures["off_time_s"].value or 0.0 for each in whole]
    left_out = len(cycles) - len(whole)
    if not whole or sum(on) + sum(off) <= 0.0:
        nothing = Figure(None, reason="no cycle is known from its start to the next")
        return Usage(nothing, nothing, 0, left_out)
    factor, per_hour = factors(on, off)
    reason = "one cycle alone has no scatter" if len(whole) < FEWEST else ""
    off_by_s = sum(each.figures["on_time_s"].half or 0.0 for each in whole)
    half = None if reason else hypot(_half_of_ratio(on, off), 100.0 * off_by_s / (sum(on) + sum(off)))
    return Usage(
        Figure(100.0 * factor, half, reason), Figure(per_hour, None if reason else _half_of_rate(on, off), reason),
        len(whole), left_out,
    )  # fmt: skip


def is_whole(cycle: Cycle) -> bool:
    """Its start, its stop and the next start were seen, and no gap hides another."""
    on, off = cycle.figures["on_time_s"], cycle.figures["off_time_s"]
    known = all(each.value is not None and each.bound is Bound.NONE for each in (on, off))
    return cycle.ended and cycle.begun is Begun.SEEN and not cycle.hidden_s and known


def factors(on_s: Sequence[float], off_s: Sequence[float]) -> tuple[float, float]:
    """Share of the time that it is on, 0 to 1, and starts per hour, of times of being on and off in turn."""
    total_s = sum(on_s) + sum(off_s)
    return sum(on_s) / total_s, HOUR_S * len(on_s) / total_s


def times_on_off(at_s: Sequence[float], on: Sequence[bool]) -> tuple[list[float], list[float]]:
    """Times of being on and of being off, in turn, in rows that each hold until the next; the first and last stretch as
    far as they are seen. `at_s`: times of the rows, (n,)."""
    times: dict[bool, list[float]] = {True: [], False: []}
    before: bool | None = None
    for (begin, end), is_on in zip(pairwise(at_s), on, strict=False):
        if is_on != before:
            times[bool(is_on)].append(0.0)
        times[bool(is_on)][-1] += end - begin
        before = bool(is_on)
    return times[True], times[False]


def _half_of_ratio(on: list[float], off: list[float]) -> float:
    """Of 100 times a ratio of sums: residuals of on less factor times period (linearised, JCGM 100, 5.1)."""
    n, total = len(on), sum(on) + sum(off)
    factor = sum(on) / total
    squares = sum((a - factor * (a + b)) ** 2 for a, b in zip(on, off, strict=True))
    return 100.0 * coverage_factor(n - 1) * sqrt(n * squares / (n - 1)) / total


def _half_of_rate(on: list[float], off: list[float]) -> float:
    n, periods = len(on), [a + b for a, b in zip(on, off, strict=True)]
    mean = sum(periods) / n
    scatter = sqrt(sum((each - mean) ** 2 for each in periods) / (n - 1) / n)
    return HOUR_S / mean * coverage_factor(n - 1) * scatter / mean
