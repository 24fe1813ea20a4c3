"""Do the voltages follow the speed, as those of windings do. Pure.

A winding makes the same voltage-time sum in each electrical turn, however long that takes. A drive that does not chop
makes the same voltage, and the sum goes with the time. Whole electrical turns are compared, so that it does not matter
where sensors sit. At one speed alone nothing tells the two apart.
"""

from dataclasses import dataclass

import numpy as np

from server.hall.motion import EDGES_PER_TURN
from server.wiring.course import Course
from server.wiring.visits import Visits

_LOUD = 0.99  # of a visit: of others the sum is a part
_HALF = 0.5  # of the exponent: 281 healthy motors in a hand had 0.92 to 1.02 (own count)
_APART = 1.5  # times as long, the slowest electrical turn as the fastest: less tells nothing (ours)


@dataclass(frozen=True, slots=True)
class Follows:
    """`slower`: how many times as long the slowest electrical turn took as the fastest; `exponent`: of the speed, with
    which the voltages go: 1 of windings, 0 of a source."""

    slower: float
    exponent: float

    @property
    def driven(self) -> bool:
        """Whether a drive makes them."""
        return self.exponent < _HALF


def follows(visits: Visits, course: Course) -> Follows | None:
    """None where the speed changed too little to tell."""
    way = np.where(visits.loud >= _LOUD, course.sense, 0)
    if way.size < EDGES_PER_TURN + 1:
        return None
    behind = np.append(True, visits.begin_tick[1:] == visits.end_tick[:-1])
    rows = np.lib.stride_tricks.sliding_window_view
    whole = (np.abs(rows(way, EDGES_PER_TURN).sum(axis=1)) == EDGES_PER_TURN) & rows(behind, EDGES_PER_TURN)[:, 1:].all(
        axis=1
    )
    lasted = rows(visits.end_tick - visits.begin_tick, EDGES_PER_TURN).sum(axis=1)[whole]
    sums = rows(visits.spread_v_s, EDGES_PER_TURN).sum(axis=1)[whole]
    if not lasted.size or lasted.max() < _APART * lasted.min():
        return None
    time = np.log(lasted) - np.log(lasted).mean()
    return Follows(float(lasted.max() / lasted.min()), 1.0 - float(time @ np.log(sums)) / float(time @ time))
