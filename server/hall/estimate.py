"""The shaft's speed at a moment: an estimate, a bound that falls with the time since the last edge, why to doubt it.

Pure; knows no clock.
"""

from collections.abc import Sequence
from dataclasses import dataclass
from math import ceil, hypot, inf, isfinite, sqrt
from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from server.hall.budget import SCATTER_DEG, Standard, of_fit, of_places, of_turns
from server.hall.fit import TICK, Fit, fitted
from server.hall.motion import EDGES_PER_TURN, Motion
from server.hall.tail import Tail
from server.readings import Doubt

SINCE_LAST = "time since last edge"
SAME_TICK = "the last edges came at one and the same tick"
LATE = 1.25  # an edge is late once its interval is this many times the last one: sensors sit up to 15 of 60 deg off
_EVEN = 1.5  # one interval, that many times as long as the one before or as short, is the speed of no moment in it
_STEADY = 0.03  # a mechanical turn is used where its last electrical turn is this close to it


@dataclass(frozen=True, slots=True)
class Estimate:
    """Speed in r/min, signed where the direction is known (None: cannot be said), why to doubt it, where it begins.

    `source`: over what it was taken, in words. `parts`: relative standard uncertainties; empty: not known. `bound`: the
    shaft turns no faster, and that is all.
    """

    rpm: float | None
    reason: str
    first_tick: int
    source: str = ""
    parts: tuple[Standard, ...] = ()
    bound: bool = False

    @property
    def doubt(self) -> Doubt:
        """What of the reason others act on."""
        return Doubt.ONLY_A_BOUND if self.bound else Doubt.NONE


def from_halls(
    tail: Tail, motion: Motion, pole_pairs: int, window_first_tick: int, end_tick: int, tick_hz: float
) -> Estimate:
    """A line through all edges of the window where it holds a mechanical turn and the speed is steady; where it is not
    quite, its last mechanical turn; else one electrical turn, else less."""
    if not tail.ticks.size or np.isnan(motion.erpm[-1]):
        return Estimate(None, "too few edges: turn further", tail.first_tick)
    last = tail.ticks.shape[0] - 1
    oldest, rpm = int(motion.used[last]), float(motion.erpm[last]) / pole_pairs
    look = tail.look_ticks
    sectors, ticks = last - oldest, float(tail.ticks[last] - tail.ticks[oldest])
    if ticks <= 0.0 or not isfinite(rpm):
        return Estimate(None, SAME_TICK, tail.since(oldest - 1))
    source, parts = _sectors(sectors), of_places(ticks, sectors, pole_pairs, None, look)
    reason = _why_doubtful(motion)
    if motion.again[last]:
        rpm = abs(rpm)
    elif motion.whole[last] and not reason:
        edges = EDGES_PER_TURN * pole_pairs
        # Whether the window holds a mechanical turn is asked of all its edges: one that is missing decides it too.
        first = int(tail.ticks.searchsorted(window_first_tick))
        oldest = min(oldest, max(first - 1, 0))
        if motion.run[last] > edges and tail.ticks[last - edges] >= window_first_tick:
            turn_ticks = float(tail.ticks[last] - tail.ticks[last - edges])
            turn = float(np.copysign(60.0 * tick_hz / turn_ticks, rpm))
            if abs(rpm / turn - 1.0) < _STEADY:
                fit = fitted(tail.ticks[max(first, last - int(motion.run[last]) + 1) :], edges, look)
                rpm, source, parts = turn, "one mechanical turn", of_turns(turn_ticks, 1, fit, look)
                if fit is not None and fit.steady:
                    rpm, source, parts = _of(fit, edges, rpm, tick_hz), "edges of the window", of_fit(fit, look)
    first_tick = tail.since(oldest - 1)  # the edge before says how long the run is
    estimate = Estimate(rpm, reason, first_tick, source, parts)
    return _no_faster(estimate, int(tail.ticks[last]), 10.0 / pole_pairs, end_tick, tick_hz)


def _sectors(sectors: int) -> str:
    if sectors == EDGES_PER_TURN:
        return "one electrical turn"
    return f"{sectors} sector{'s' if sectors > 1 else ''}"


def _of(fit: Fit, edges_per_turn: int, like_rpm: float, tick_hz: float) -> float:
    """The speed of a fit, with the sign of another speed."""
    return float(np.copysign(60.0 * tick_hz / (edges_per_turn * fit.step_ticks), like_rpm))


def _why_doubtful(motion: Motion) -> str:
    if motion.again[-1]:
        return "the state order is wrong: time until the same edge came again"
    if motion.hurried[-1]:
        return "speed rose by more than half within one electrical turn: from its last two sectors"
    if motion.whole[-1]:
        return ""
    if motion.erpm[-1] == 0.0:
        trembles = motion.run.shape[0] > 1 and motion.run[-2] == 1
        return "trembles on an edge" if trembles else "turned back at the last edge"
    return f"less than one electrical turn: edges in this direction: {int(motion.run[-1])}"


def from_pulses(
    ticks: NDArray[np.int64],
    reaches: int,
    pulses_per_turn: int,
    window_first_tick: int,
    end_tick: int,
    tick_hz: float,
    stopped_rpm: float,
    look_ticks: int = 1,
) -> Estimate:
    """A line through all pulses of the window where the speed is steady, else whole turns of them, else whole pulses
    over their own time; the last two pulses where the window holds fewer. Whole turns are told as of the window's
    middle, as the speed changes.

    One interval alone may hold a rest, so it is believed when it is like the one before.
    """
    last = ticks.shape[0] - 1
    if last < 1:
        return Estimate(None, "fewer than two pulses so far", reaches)
    oldest = min(int(ticks.searchsorted(window_first_tick)), last - 1)
    turns = (last - oldest) // pulses_per_turn
    since = last - turns * pulses_per_turn if turns else oldest  # over whole turns it does not matter where pulses sit
    stretch = float(ticks[last] - ticks[since])
    if stretch <= 0.0:
        return Estimate(None, SAME_TICK, reaches)
    rpm = 60.0 * (last - since) * tick_hz / (pulses_per_turn * stretch)
    reason, asked = "", oldest
    source, fit = "whole pulses", fitted(ticks[oldest:], pulses_per_turn, look_ticks)
    parts = of_turns(stretch, turns, fit, look_ticks) if turns else ()
    if oldest == last - 1:
        reason, asked = uneven(np.diff(ticks[-3:]).tolist(), "pulses"), oldest - 1
        source = "last two pulses"
    elif fit is not None and fit.steady:
        rpm, source, parts = _of(fit, pulses_per_turn, rpm, tick_hz), "edges of the window", of_fit(fit, look_ticks)
    elif parts and (growth := _growth(ticks[oldest:], pulses_per_turn, fit, look_ticks)) is None:
        parts = ()  # the speed may change, and where pulses sit hides by how much
    elif parts and growth is not None:
        step = stretch / (last - since)
        later = (window_first_tick + end_tick - int(ticks[last]) - int(ticks[since])) / (2.0 * step)  # of the middles
        rpm *= step / max(step + growth.ticks * later, 0.5 * step)
        parts = (*parts, ("speed changing within the window", growth.standard * abs(later) / step, growth.dof))
    first_tick = int(ticks[asked - 3]) if asked >= 3 else reaches  # two say that it is no chatter, one may be hidden
    if rpm <= stopped_rpm:
        return Estimate(None, "it had stood: one more pulse is needed", first_tick)
    estimate = Estimate(rpm, reason, first_tick, source, parts)
    return _no_faster(estimate, int(ticks[last]), 60.0 / pulses_per_turn, end_tick, tick_hz)


class _Growth(NamedTuple):
    """By how many ticks a step grows from one pulse to the next, with its standard uncertainty."""

    ticks: float
    standard: float
    dof: float


def _growth(ticks: NDArray[np.int64], per_turn: int, fit: Fit | None, look_ticks: int) -> _Growth | None:
    """None where uneven places do not let it be told."""
    if fit is not None:
        return _Growth(fit.growth, fit.growth_standard, float(fit.dof))
    if per_turn > 1:
        return None
    before, now = (int(each) for each in np.diff(ticks[-3:]))
    one = hypot(SCATTER_DEG / 360.0 * 0.5 * (before + now), look_ticks * TICK)
    return _Growth(float(now - before), sqrt(6.0) * one, inf)


def uneven(intervals: Sequence[float], what: str) -> str:
    """Why the last interval of pulses or counts is not the speed, or empty; `intervals`: the one before, and it."""
    if len(intervals) < 2:
        return f"one interval between {what} so far: the shaft may have stood in it"
    before, now = intervals
    if now > _EVEN * before:
        return f"the shaft slowed or stood between the last two {what}: mean since the one before"
    return f"speed rose between the last two {what}: mean since the one before" if before > _EVEN * now else ""


def _no_faster(estimate: Estimate, newest_tick: int, rpm_at_1_s: float, end_tick: int, tick_hz: float) -> Estimate:
    """The estimate, or at most one interval in the time since the newest edge, once the next one is late."""
    assert estimate.rpm is not None
    age_s = (end_tick - newest_tick) / tick_hz
    if abs(estimate.rpm) * age_s <= LATE * rpm_at_1_s:
        return estimate
    rpm = float(np.copysign(rpm_at_1_s / age_s, estimate.rpm))
    return Estimate(rpm, f"no edge for {age_s:.2g} s: at most this", estimate.first_tick, SINCE_LAST, bound=True)


def or_at_rest(
    estimate: Estimate, newest_tick: int, rpm_at_1_s: float, end_tick: int, tick_hz: float, stopped_rpm: float
) -> Estimate:
    """Standing, once the bound since the newest edge is under the stopped speed: what is left below it is not evidence.

    Before that the bound itself is the estimate, and doubtful: it falls with the time since the newest edge.
    """
    age_s = (end_tick - newest_tick) / tick_hz
    if rpm_at_1_s > stopped_rpm * age_s:
        return estimate
    first_tick = end_tick - ceil(tick_hz * rpm_at_1_s / stopped_rpm)
    return Estimate(0.0, "", first_tick, SINCE_LAST)
