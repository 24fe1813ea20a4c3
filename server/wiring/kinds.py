"""Which input changed at the beginning of each visit, and how late by the leads' voltages. Pure."""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.wiring.course import Course
from server.wiring.lines import SINGLE
from server.wiring.visits import Visits

KINDS = 6  # three inputs, rising and falling


def kind_of(visits: Visits) -> NDArray[np.int64]:
    """By visit: 2 * input + rising of the edge that began it, -1 where it was none of one input alone."""
    flipped = np.where(visits.before >= 0, visits.before ^ visits.state, 0)
    place = SINGLE[flipped]
    rising = visits.state >> np.maximum(place, 0) & 1
    return np.where(place >= 0, 2 * place + rising, -1)


@dataclass(frozen=True, slots=True)
class Late:
    """Edges whose angle could be told, (n,): their kind, degrees late, +1 where the shaft turned as it did in all
    (`ahead`), their electrical frequency and the spread of the leads there."""

    kind: NDArray[np.int64]
    deg: NDArray[np.float64]
    ahead: NDArray[np.bool_]
    hz: NDArray[np.float64]
    spread_v: NDArray[np.float64]

    def where(self, chosen: NDArray[np.bool_]) -> "Late":
        """Those chosen."""
        return Late(self.kind[chosen], self.deg[chosen], self.ahead[chosen], self.hz[chosen], self.spread_v[chosen])


def late_edges(visits: Visits, course: Course, tick_hz: float, look_s: float = 0.0) -> Late:
    """Of edges that began a visit which the shaft passed through, none of them lost. `look_s`: they were found by
    looks so far apart, half of that too late in the mean, which is taken off."""
    kind = kind_of(visits)
    passed = (visits.before != visits.after) & visits.sure & (visits.loud > 0.0)
    chosen = (kind >= 0) & (visits.turns != 0) & np.isfinite(visits.late_deg) & passed
    lasted_s = np.maximum(visits.end_tick - visits.begin_tick, 1)[chosen] / tick_hz
    farther = 1 if int(course.sense.sum()) >= 0 else -1
    with_states = 1 if int((visits.turns * course.sense).sum()) >= 0 else -1  # of the leads' order, that of the states
    ahead = visits.turns[chosen] == farther * with_states
    spread = visits.spread_v_s[chosen] / (lasted_s * visits.loud[chosen])
    hz = 1.0 / (6.0 * lasted_s)
    return Late(kind[chosen], visits.late_deg[chosen] - 180.0 * hz * look_s, ahead, hz, spread)
