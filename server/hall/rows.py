"""Speed at many moments at once, for the rows of the strip and of run states."""

import numpy as np
from numpy.typing import NDArray

from server.config import Plate
from server.hall.inputs import Halls, shaft_inputs
from server.hall.motion import EDGES_PER_TURN, motion_of
from server.hall.pulses import rising_edges
from server.hall.tail import GLITCH_S_MAX, tail_of
from server.samples import EdgeTrain

_STILL_RPM = 2.5  # below this bound a row reads 0


def speed_rows(train: EdgeTrain, ticks: NDArray[np.int64], plate: Plate) -> NDArray[np.float64]:
    """Speed in r/min at each of the rising `ticks`, signed where the direction is known; NaN where there is none.

    From the electrical turn (pulses: the interval) that ended last, never more than one sector (interval) in the time
    since then, so it falls to 0 by itself. NaN where edges may be missing in the stretch used.
    """
    shaft = shaft_inputs(train.inputs, plate)
    nothing = np.full(ticks.shape[0], np.nan)
    if shaft is None or not ticks.size:
        return nothing
    first, last = int(ticks[0]), int(ticks[-1])
    if isinstance(shaft, Halls):
        if shaft.pole_pairs is None:
            return nothing
        tail = tail_of(train, shaft.bits, first, last, EDGES_PER_TURN + 8)
        motion = motion_of(tail, shaft.spacing_deg, train.tick_hz)
        edges, rpm = tail.ticks, motion.erpm / shaft.pole_pairs
        begins = tail.sinces(motion.used - 1)
        reaches, rpm_at_1_s = tail.first_tick, 10.0 / shaft.pole_pairs
    else:
        if not shaft.pulses_per_turn:
            return nothing
        edges, reaches = rising_edges(train, shaft.bit, first, last, 4)
        rpm_at_1_s = 60.0 / shaft.pulses_per_turn
        rpm = np.full(edges.shape[0], np.nan)
        rpm[1:] = rpm_at_1_s * train.tick_hz / np.diff(edges)
        # The interval's first edge may be the rest of chatter, and rises only against the edge before that.
        certain = train.ticks.searchsorted(edges - round(GLITCH_S_MAX * train.tick_hz)) - 1
        known = np.where(certain >= 0, train.ticks[np.maximum(certain, 0)], train.known_from_tick)
        begins = np.concatenate((known[:1], known[:-1]))
    return _at(ticks, edges, rpm, begins, reaches, rpm_at_1_s, train)


def _at(
    ticks: NDArray[np.int64],
    edges: NDArray[np.int64],
    rpm: NDArray[np.float64],
    begins: NDArray[np.int64],
    reaches: int,
    rpm_at_1_s: float,
    train: EdgeTrain,
) -> NDArray[np.float64]:
    """Hold the speed after the last edge before each tick, bounded by the age of that edge."""
    at = edges.searchsorted(ticks, side="right")
    since = np.concatenate(([reaches], edges))[at]
    age_s = np.maximum(ticks - since, 1) / train.tick_hz
    bound = rpm_at_1_s / age_s
    held = np.concatenate(([np.nan], rpm))[at]
    out = np.sign(held) * np.minimum(np.abs(held), bound)
    still = bound <= _STILL_RPM
    out[still] = 0.0
    start = np.where(
        still, ticks - int(train.tick_hz * rpm_at_1_s / _STILL_RPM), np.concatenate(([reaches], begins))[at]
    )
    for lost_from, lost_to in train.uncertain:
        out[(lost_from <= ticks) & (lost_to >= start)] = np.nan
    out[ticks > train.known_to_tick] = np.nan
    return out
