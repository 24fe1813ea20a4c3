"""How long a test still takes, with its uncertainty. Pure.

From the cycles so far: what is left times the mean time of one. The interval holds both that the mean is known from a
few cycles and that those to come scatter (JCGM 100, G.3 for the mean; the sum of n that scatter alike by its root).
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import hypot, sqrt

from server.duty.cycle import Cycle
from server.duty.factor import is_whole
from server.quantities.uncertainty import NORMAL_95, coverage_factor
from server.test_plan.plan import Plan

_CYCLES_MAX = 200  # the newest: a test may be changed on its way
_NOT_KNOWN = "no cycle is known from its start to the next, and no duty is expected"


@dataclass(frozen=True, slots=True)
class Ahead:
    """`seconds` of watched time that are left, give or take `half`; None and `reason` where that cannot be said.

    `cycles`, `on_s`: what is left of the goals; None: no such goal. `by`: what it rests on.
    """

    seconds: float | None
    half: float | None = None
    reason: str = ""
    cycles: int | None = None
    on_s: float | None = None
    by: str = ""


def ahead_of(plan: Plan, starts: int, on_s: float, cycles: Sequence[Cycle]) -> Ahead:
    """Of a test that has had so many starts and was on for so long."""
    left = None if plan.goal_cycles is None else max(plan.goal_cycles - starts, 0)
    left_s = None if plan.goal_hours is None else max(3600.0 * plan.goal_hours - on_s, 0.0)
    if left is None and left_s is None:
        return Ahead(None, reason="when a temperature comes to equilibrium is not foretold")
    if not left and not left_s:
        return Ahead(0.0, 0.0, "", left, left_s)
    whole = [each for each in cycles if is_whole(each)][-_CYCLES_MAX:]
    on = [each.figures["on_time_s"].value or 0.0 for each in whole]
    periods = [a + (each.figures["off_time_s"].value or 0.0) for a, each in zip(on, whole, strict=True)]
    by = "1 cycle" if len(whole) == 1 else f"{len(whole)} cycles"
    if not whole:
        if left is None and cycles and cycles[-1].figures["off_time_s"].value is None:
            return Ahead(left_s, None, "", left, left_s, "it runs without a rest")
        if plan.on_s is None or plan.off_s is None:
            return Ahead(None, None, _NOT_KNOWN, left, left_s)
        on, periods, by = [plan.on_s], [plan.on_s + plan.off_s], "the duty that is expected"
    mean_on = sum(on) / len(on)
    if left_s and mean_on <= 0.0:
        return Ahead(None, None, "its cycles are on for no time", left, left_s)
    count = max(float(left or 0), left_s / mean_on if left_s else 0.0)
    mean = sum(periods) / len(periods)
    return Ahead(count * mean, _half(count, periods), "", left, left_s, by)


def _half(count: float, periods: list[float]) -> float | None:
    n = len(periods)
    if n < 2:
        return None
    mean = sum(periods) / n
    scatter = sqrt(sum((each - mean) ** 2 for each in periods) / (n - 1))
    return hypot(count * coverage_factor(n - 1) * scatter / sqrt(n), NORMAL_95 * scatter * sqrt(count))
