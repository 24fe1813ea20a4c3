"""The shaft's speed from a counter of pulses: so many over their own time, as far as its words tell it. Pure.

A count goes on while frames are lost, so a word that did not come makes the stretch longer and nothing wrong. It cannot
tell the direction, nor what the shaft did between two words.
"""

from math import inf

import numpy as np
from numpy.typing import NDArray

from server.hall.budget import Standard, of_counts
from server.hall.estimate import LATE, Estimate, uneven
from server.samples import CountTrain, Input

_SILENT_S = 1.3  # a board tells each counter once a second, and up to 0.25 s pass before the next tick is heard of
_ON_ITS_WAY_S = 0.05  # a word may be so much older than the tick that was heard before it: one block's time


def from_counts(train: CountTrain, first_tick: int, end_tick: int, stopped_rpm: float) -> Estimate:
    """Speed in r/min over the words of the window and the last one before it; over the last two where it holds fewer.

    Example: 4000 pulses at tick 0 and 4060 at tick 100 000, of 60 a turn and ticks of 1 us: 600 r/min.
    """
    per_turn, told = train.input.pulses_per_turn, train.told
    if not per_turn:
        return Estimate(None, "pulses in a turn are not known", first_tick)
    if told is None:
        return Estimate(None, "no count came so far", first_tick)
    silent_s = (end_tick - told[1]) / train.tick_hz
    if silent_s > _SILENT_S:
        return Estimate(None, f"no count came for {silent_s:.2g} s", told[1])
    stop = int(train.ticks.searchsorted(end_tick, side="right"))
    ticks, counts = _one_a_tick(train.ticks[:stop], train.counts[:stop])
    newest_tick, rpm_at_1_s = int(ticks[-1]) if stop else told[0], 60.0 / per_turn
    quiet_s = 0.0  # so long no pulse came, for certain
    if stop == train.ticks.shape[0]:
        quiet_s = max((min(told[1], end_tick) - newest_tick) / train.tick_hz - _ON_ITS_WAY_S, 0.0)
    if quiet_s * stopped_rpm >= rpm_at_1_s:
        return Estimate(0.0, "", newest_tick)
    if ticks.shape[0] < 2:
        anew = train.anew_tick is not None
        return Estimate(None, "the count began anew" if anew else "fewer than two counts so far", newest_tick)
    estimate = _over(ticks, counts, train.input, (first_tick, end_tick), train.tick_hz)
    assert estimate.rpm is not None
    if estimate.rpm <= stopped_rpm:
        return Estimate(None, "it had stood: one more count is needed", estimate.first_tick)
    if estimate.rpm * quiet_s > LATE * rpm_at_1_s:
        reason = f"no pulse for {quiet_s:.2g} s: at most this"
        return Estimate(rpm_at_1_s / quiet_s, reason, estimate.first_tick, bound=True)
    age_s = (end_tick - newest_tick) / train.tick_hz
    reason = estimate.reason
    if newest_tick < first_tick and estimate.rpm * age_s > LATE * rpm_at_1_s:
        reason = f"no count came for {age_s:.2g} s: speed of before"
    elif train.anew_tick is not None and train.anew_tick >= first_tick:
        reason = "the count began anew in this window"
    return Estimate(estimate.rpm, reason, estimate.first_tick, parts=estimate.parts)


def _one_a_tick(ticks: NDArray[np.int64], counts: NDArray[np.int64]) -> tuple[NDArray[np.int64], NDArray[np.int64]]:
    """Of several words of one tick the newest: between them no time has passed."""
    newest = np.append(ticks[1:] > ticks[:-1], True)[: ticks.shape[0]]
    return ticks[newest], counts[newest]


def _over(
    ticks: NDArray[np.int64], counts: NDArray[np.int64], its: Input, window: tuple[int, int], tick_hz: float
) -> Estimate:
    """From the last word before the window, if it is no further back than the window is long, to the newest."""
    (first, end), last, per_turn = window, ticks.shape[0] - 1, its.pulses_per_turn or 1
    oldest = int(ticks.searchsorted(first, side="right")) - 1
    if oldest < 0 or first - int(ticks[oldest]) > end - first:
        oldest += 1
    oldest = min(oldest, last - 1)
    pulses, stretch = int(counts[last] - counts[oldest]), float(ticks[last] - ticks[oldest])
    rpm = 60.0 * pulses * tick_hz / (per_turn * stretch)
    parts = of_counts(stretch, pulses, per_turn, its.look_ticks)
    if oldest < last - 1:
        parts += _changing(ticks[oldest:], counts[oldest:], 0.5 * (first + end))
        return Estimate(rpm, "", int(ticks[oldest]), parts=parts)
    reason = "" if stretch <= end - first else _uneven(ticks, counts)
    return Estimate(rpm, reason, int(ticks[max(oldest - 1, 0)]), parts=parts)


def _uneven(ticks: NDArray[np.int64], counts: NDArray[np.int64]) -> str:
    """Why the stretch between the last two words is not the speed, or empty: by the time that a pulse took."""
    steps = np.diff(ticks[-3:]) / np.diff(counts[-3:])
    return uneven(steps.tolist(), "counts")


def _changing(ticks: NDArray[np.int64], counts: NDArray[np.int64], middle: float) -> tuple[Standard, ...]:
    """What a speed that changes evenly makes the mean differ from that of the window, as a share of it."""
    speeds = np.diff(counts) / np.diff(ticks)
    middles = 0.5 * (ticks[1:] + ticks[:-1])
    off = abs(middle - 0.5 * float(ticks[-1] + ticks[0]))
    growth = abs(float(speeds[-1] - speeds[0])) / float(middles[-1] - middles[0])
    return (("speed changing within the window", growth * off / float(speeds.mean()), inf),)
