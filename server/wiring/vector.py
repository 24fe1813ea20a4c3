"""The angle of the voltages of three leads, and how late edges come after the crossings of two of them. Pure.

With u, v, w against their mean the vector is (2u - v - w)/3, (v - w)/sqrt(3) (Clarke's transform, any text on
machines). The voltage between two leads is nothing where its angle is a multiple of 60 degrees, that of one lead half
way between. Of a shaft that is turned the angle tells the place of the rotor, whatever the speed.
"""

from typing import NamedTuple

import numpy as np
from numpy.typing import NDArray

from server.wiring.leads import Leads

FIT_SHARE, FIT_S_MAX, FIT_SAMPLES_MIN = 0.35, 0.020, 3  # of the neighbouring visits, on each side of an edge
_CLEAR = 2.0  # times `least_v`: the spread from which on an angle is taken


class Lateness(NamedTuple):
    """By edge (n,): `late_deg`, -30 to 30 electrical degrees after the nearest crossing in the direction turned, NaN
    where it can't be told; `turns`: +1 where U leads V leads W, -1 the other way, 0 where it can't be told."""

    late_deg: NDArray[np.float64]
    turns: NDArray[np.int64]


def lateness(ticks: NDArray[np.int64], leads: Leads | None, tick_hz: float) -> Lateness:
    """At each edge, from a straight line through the angle round it."""
    n = ticks.shape[0]
    late, turns = np.full(n, np.nan), np.zeros(n, np.int64)
    if leads is None or n < 2 or leads.count < 2 * FIT_SAMPLES_MIN:
        return Lateness(late, turns)
    at = (ticks - leads.first_tick) / leads.ticks_per_sample
    most = FIT_S_MAX * tick_hz / leads.ticks_per_sample
    reach = np.minimum(FIT_SHARE * np.minimum(np.diff(at, prepend=-np.inf), np.diff(at, append=np.inf)), most)
    usable = np.isfinite(reach)
    first, last = np.ceil(at - np.where(usable, reach, 0.0)), np.floor(at + np.where(usable, reach, 0.0)) + 1
    usable &= (first >= 0) & (last <= leads.count) & (last - first >= 2 * FIT_SAMPLES_MIN)
    edges = np.flatnonzero(usable)
    if not edges.size:
        return Lateness(late, turns)
    begin, length = first[edges].astype(np.int64), (last - first)[edges].astype(np.int64)
    angle, clear = _angle(leads)
    path = np.cumsum(_steps(angle, clear))
    starts = np.concatenate(([0], np.cumsum(length)[:-1]))
    here = np.arange(int(length.sum())) - np.repeat(starts - begin, length)  # samples of all fits, one after another
    x = here - np.repeat(at[edges], length)
    y = path[here] - np.repeat(path[begin], length)
    mean_x, mean_y = (np.add.reduceat(each, starts) / length for each in (x, y))
    off = x - np.repeat(mean_x, length)
    slope = np.add.reduceat(off * y, starts) / np.add.reduceat(off * off, starts)
    good = np.logical_and.reduceat(clear[here], starts) & (slope != 0.0)
    there = np.degrees(angle[begin] + mean_y - slope * mean_x)
    sense = np.where(slope > 0.0, 1, -1)
    late[edges] = np.where(good, ((there + 30.0) % 60.0 - 30.0) * sense, np.nan)
    turns[edges] = np.where(good, sense, 0)
    return Lateness(late, turns)


def swept_deg(leads: Leads) -> float:
    """Electrical degrees by which the shaft was turned while its voltages could be told; sign as `turns`."""
    return float(np.degrees(_steps(*_angle(leads)).sum()))


def _angle(leads: Leads) -> tuple[NDArray[np.float64], NDArray[np.bool_]]:
    """In radians, and where it is clear."""
    u, v, w = leads.volts
    return np.arctan2((v - w) / 3.0**0.5, (2.0 * u - v - w) / 3.0), leads.spread >= _CLEAR * leads.least_v


def _steps(angle: NDArray[np.float64], clear: NDArray[np.bool_]) -> NDArray[np.float64]:
    """From sample to sample, 0 where one of the two is not clear."""
    step = (np.diff(angle, prepend=angle[:1]) + np.pi) % (2.0 * np.pi) - np.pi
    step[1:][~(clear[1:] & clear[:-1])] = 0.0
    if step.size:
        step[0] = 0.0
    return step
