"""Which input changed at the beginning of each visit, and how late by the leads' voltages. Pure."""

from dataclasses import dataclass, fields
from math import hypot, sqrt

import numpy as np
from numpy.typing import NDArray

from server.wiring.grounds import Grounds
from server.wiring.leads import UNSAID
from server.wiring.lines import SINGLE
from server.wiring.visits import Visits

KINDS = 6  # three inputs, rising and falling
USUAL_DEG = 2.0  # scatter of an edge (common practice)
_PEAK = 1.65  # mean spread of three leads over the length of their vector: 1.654 for sines, 1.65 to 1.7 for trapezoids


def kind_of(visits: Visits) -> NDArray[np.int64]:
    """By visit: 2 * input + rising of the edge that began it, -1 where it was none of one input alone."""
    flipped = np.where(visits.before >= 0, visits.before ^ visits.state, 0)
    place = SINGLE[flipped]
    rising = visits.state >> np.maximum(place, 0) & 1
    return np.where(place >= 0, 2 * place + rising, -1)


@dataclass(frozen=True, slots=True)
class Late:
    """Edges whose angle could be told, (n,): their kind, degrees late, whether the shaft turned as it did in all
    (`ahead`), which border of two sectors they are (as `Course.border`). Degrees, standard, by which channels may have
    shown them off: `delayed`, all of them alike, and `moved`, by offsets and gains; and what each is worth in a mean.
    """

    kind: NDArray[np.int64]
    deg: NDArray[np.float64]
    ahead: NDArray[np.bool_]
    border: NDArray[np.int64]
    delayed: NDArray[np.float64]
    moved: NDArray[np.float64]
    worth: NDArray[np.float64]

    def where(self, chosen: NDArray[np.bool_]) -> "Late":
        """Those chosen."""
        return Late(*[getattr(self, field.name)[chosen] for field in fields(self)])


def late_edges(grounds: Grounds) -> Late:
    """Of edges that began a visit which the shaft passed through, none of them lost.

    Those that were found by looks at the inputs are half of the time between these too late in the mean, which is taken
    off; a shaft that keeps step with the looks is late by the same part of one each time: rectangular, like a delay
    that is not known (JCGM 100, 4.3.7). What an offset makes of an edge goes with the time that the voltages take to
    cross: slow edges are worth less.
    """
    visits, course, look_s = grounds.visits, grounds.course, grounds.look_s
    kind = kind_of(visits)
    passed = (visits.before != visits.after) & visits.sure & (visits.loud > 0.0)
    chosen = (kind >= 0) & (visits.turns != 0) & np.isfinite(visits.late_deg) & passed
    lasted_s = np.maximum(visits.end_tick - visits.begin_tick, 1)[chosen] / grounds.tick_hz
    farther = 1 if int(course.sense.sum()) >= 0 else -1
    with_states = 1 if int((visits.turns * course.sense).sum()) >= 0 else -1  # of the leads' order, that of the states
    ahead = visits.turns[chosen] == farther * with_states
    loud_s, turn_deg_s = lasted_s * visits.loud[chosen], 60.0 / lasted_s
    off_by = grounds.off_by or UNSAID
    volts = np.hypot(off_by.volts or 0.0, (off_by.gain or 0.0) * visits.read_v_s[chosen] / loud_s)
    moved = np.degrees(sqrt(2.0 / 3.0) * _PEAK * volts / (visits.spread_v_s[chosen] / loud_s))
    return Late(
        kind[chosen],
        visits.late_deg[chosen] - 0.5 * turn_deg_s * look_s,
        ahead,
        course.border[chosen],
        turn_deg_s * hypot(off_by.delay_s or 0.0, look_s / sqrt(12.0)),
        moved,
        1.0 / (1.0 + (moved / USUAL_DEG) ** 2),
    )
