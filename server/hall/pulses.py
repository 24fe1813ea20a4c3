"""Speed from a shaft pulse sensor, or from a single Hall sensor. It cannot tell the direction.

Rising edges alone are used: the width of a pulse depends on the sensor, their distance on the shaft.
"""

import numpy as np
from numpy.typing import NDArray

from server.hall.tail import GLITCH_S_MAX
from server.samples import EdgeTrain

_GLITCH_SHARE = 0.1
_RAW_EDGES_PER_PULSE = 64  # edges of all inputs looked through for each pulse wanted; beyond that it counts as unknown


def rising_edges(
    train: EdgeTrain, bit: int, first_tick: int, end_tick: int, more: int
) -> tuple[NDArray[np.int64], int]:
    """Ticks of rising edges of one input in (first_tick, end_tick] and `more` before them, and how far back they reach.

    A rising edge that follows another within GLITCH_S_MAX and a tenth of the time round both is chatter and left out.
    """
    stop = int(train.ticks.searchsorted(end_tick, side="right"))
    begin = max(0, int(train.ticks.searchsorted(first_tick, side="right")) - _RAW_EDGES_PER_PULSE * (more + 2))
    was = int(train.states[begin - 1]) if begin else train.before
    before = 1 if was is None else was >> bit & 1  # an unknown level is no rising edge
    high = (train.states[begin:stop] >> bit) & 1 != 0
    rises = high.copy()
    rises[1:] &= ~high[:-1]
    rises[:1] &= not before
    ticks = train.ticks[begin:stop][rises]
    reaches = int(train.ticks[begin - 1]) if begin else train.known_from_tick
    first = max(0, int(ticks.searchsorted(first_tick, side="right")) - more - 2)
    if first:
        reaches = int(ticks[first - 1])
    ticks = ticks[first:]
    return ticks[~_chatter(ticks, train.tick_hz, train.look_ticks)], max(reaches, train.known_from_tick)


def _chatter(ticks: NDArray[np.int64], tick_hz: float, look_ticks: int) -> NDArray[np.bool_]:
    out = np.zeros(ticks.shape[0], dtype=np.bool_)
    gaps = ticks[1:] - ticks[:-1] + (look_ticks - 1)  # as long as it may have been
    for k in np.flatnonzero(gaps < GLITCH_S_MAX * tick_hz):
        around = max(gaps[k - 1] if k else 0, gaps[k + 1] if k + 1 < gaps.shape[0] else 0)
        out[k + 1] = gaps[k] < _GLITCH_SHARE * (gaps[k] + around)
    return out
