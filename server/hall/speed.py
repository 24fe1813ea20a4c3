"""The shaft's speed at a moment, from the edges before it: an estimate, a bound that falls with the time since the
last edge, and why to doubt it. Pure; knows no clock."""

from dataclasses import dataclass
from math import inf

import numpy as np
from numpy.typing import NDArray

from server.hall.motion import EDGES_PER_TURN, Motion
from server.hall.tail import Tail

_LATE = 1.25  # an edge is late once its sector lasts this many times the last one: sensors sit up to 15 of 60 deg off
_STEADY = 0.03  # a mechanical turn is used where its last electrical turn is this close to it
_FASTER = 1.5  # the last two sectors against the electrical turn: what no misplaced sensor does


@dataclass(frozen=True, slots=True)
class Estimate:
    """Speed in r/min, signed where the direction is known (None: cannot be said), why to doubt it, where it begins."""

    rpm: float | None
    reason: str
    first_tick: int


def from_halls(
    tail: Tail, motion: Motion, pole_pairs: int, window_first_tick: int, end_tick: int, tick_hz: float
) -> Estimate:
    """One mechanical turn where the window holds one and the speed is steady, else one electrical turn, else less."""
    if not tail.ticks.size or np.isnan(motion.erpm[-1]):
        return Estimate(None, "too few edges yet: turn further", tail.first_tick)
    last = tail.ticks.shape[0] - 1
    oldest, rpm, reason = int(motion.used[last]), float(motion.erpm[last]) / pole_pairs, ""
    run = int(motion.run[last])
    if not motion.whole[last]:
        reason = _short(motion, last, window_first_tick, tail)
    elif run == 0 or (np.abs(motion.step[oldest + 1 :]) != 1).any():
        reason = "state order is wrong: time until the same edge came again"
        rpm = abs(rpm)
    else:
        rpm, oldest, reason = _refined(tail, motion, pole_pairs, rpm, window_first_tick, tick_hz)
    first_tick = int(tail.ticks[oldest - 2]) if oldest >= 2 else tail.first_tick
    age_s, sector_s = (end_tick - int(tail.ticks[last])) / tick_hz, 10.0 / (pole_pairs * abs(rpm)) if rpm else inf
    if age_s > _LATE * sector_s:
        rpm = float(np.copysign(10.0 / (pole_pairs * age_s), rpm))
        reason = f"no edge for {age_s:.2g} s: at most this"
    return Estimate(rpm, reason, first_tick)


def _short(motion: Motion, last: int, window_first_tick: int, tail: Tail) -> str:
    inside = tail.ticks > window_first_tick
    if int(inside.sum()) >= 2 and abs(int(motion.step[inside].sum())) < 2:
        return "trembles on an edge"
    edges = int(motion.run[last])
    return f"less than one electrical turn: {edges} edges in this direction"


def _refined(
    tail: Tail, motion: Motion, pole_pairs: int, rpm: float, window_first_tick: int, tick_hz: float
) -> tuple[float, int, str]:
    last = tail.ticks.shape[0] - 1
    two = 20.0 * tick_hz / (pole_pairs * int(tail.ticks[last] - tail.ticks[last - 2]))
    if two > _FASTER * abs(rpm):
        reason = "speed rose by more than half within one electrical turn: from the last two sectors"
        return float(np.copysign(two, rpm)), last - EDGES_PER_TURN, reason
    edges = EDGES_PER_TURN * pole_pairs
    if motion.run[last] > edges and tail.ticks[last - edges] >= window_first_tick:
        whole_s = int(tail.ticks[last] - tail.ticks[last - edges]) / tick_hz
        turn = float(np.copysign(60.0 / whole_s, rpm))
        if abs(rpm / turn - 1.0) < _STEADY:
            return turn, last - edges, ""
    return rpm, last - EDGES_PER_TURN, ""


def from_pulses(
    ticks: NDArray[np.int64], reaches: int, pulses_per_turn: int, window_first_tick: int, end_tick: int, tick_hz: float
) -> Estimate:
    """All whole pulses inside the window over their own time; the last one where the window holds none."""
    last = ticks.shape[0] - 1
    if last < 1:
        return Estimate(None, "fewer than two pulses yet", reaches)
    oldest = min(int(ticks.searchsorted(window_first_tick)), last - 1)
    rpm = 60.0 * (last - oldest) * tick_hz / (pulses_per_turn * int(ticks[last] - ticks[oldest]))
    first_tick = int(ticks[oldest - 2]) if oldest >= 2 else reaches
    age_s = (end_tick - int(ticks[last])) / tick_hz
    bound = 60.0 / (pulses_per_turn * age_s) if age_s > 0 else inf
    if bound * _LATE < rpm:
        return Estimate(bound, f"no pulse for {age_s:.2g} s: at most this", first_tick)
    return Estimate(rpm, "", first_tick)
