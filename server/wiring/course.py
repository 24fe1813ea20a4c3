"""In which order the states came: which input reads the other way round, which way the shaft went, how far. Pure.

From Hall states alone only eight things can be told apart, and twelve wirings hide behind each: which pair of opposite
states never comes (four), and the sense. So an input is called odd here, never an order wrong. (Enumerated by tests.)
"""

from dataclasses import dataclass

import numpy as np
from numpy.typing import NDArray

from server.hall.table import sectors, steps_between
from server.wiring.arrangement import STATES
from server.wiring.torque import Fluxes
from server.wiring.visits import Visits

ODD = {0: 0, 1: 1, 2: 2, 3: 4}  # by the lower of the two states that never come: the input that is odd, as a bit
_ILLEGAL_SHARE = 0.1  # of the visits beside it: a shorter one is a glitch, not wiring
_RARE = 3  # times: a pair of states of the wiring comes as often as the others
_MUCH = 4  # times: and lasts about as long


@dataclass(frozen=True, slots=True)
class Course:
    """`odd`: the bit of the input whose polarity differs from the other two (0: none), None where it can't be told.

    By visit (n,): `sector` 1..6 with the odd input turned round, 0 where there is none; `sense` +1 or -1 where the
    shaft passed through, 0 where it came back or an edge was lost; `border`: which border of two sectors its first
    edge was, counted on over electrical turns in that sense. `edges`: steps of one sector. `turned`: net sectors, in
    that sense. `seen`: the states that came and stayed, as a bit mask.
    """

    odd: int | None
    sector: NDArray[np.int64]
    sense: NDArray[np.int64]
    border: NDArray[np.int64]
    edges: int
    turned: int
    seen: int


def course_of(visits: Visits) -> Course:
    """What `visits` say of order, sense and distance."""
    n = visits.count
    came = came_and_stayed(visits)
    odd = _odd(came, np.bincount(visits.state, visits.end_tick - visits.begin_tick, STATES).astype(np.float64))
    seen = int(sum(1 << int(state) for state in np.flatnonzero(came)))
    if odd is None or not n:
        nothing = np.zeros(n, np.int64)
        return Course(odd, nothing, nothing, nothing, 0, 0, seen)
    of_state = sectors(120)[np.arange(STATES) ^ odd]
    sector = of_state[visits.state]
    steps_in = _steps(of_state, visits.before, visits.state)
    steps_out = _steps(of_state, visits.state, visits.after)
    sense = np.where((steps_in == steps_out) & (np.abs(steps_in) == 1) & visits.sure, steps_in, 0)
    single = np.where(np.abs(steps_in) == 1, steps_in, 0)
    last = int(steps_out[-1]) if abs(int(steps_out[-1])) == 1 else 0
    edges = int(np.count_nonzero(single)) + abs(last)
    border = np.cumsum(steps_in) + (steps_in < 0)  # the same, whichever way it is passed
    return Course(odd, sector, sense, border, edges, int(single.sum()) + last, seen)


def induced_of(visits: Visits, course: Course) -> int:
    """Edges in visits whose voltages were loud enough."""
    return int(np.count_nonzero((course.sense != 0) & (visits.loud > 0.0)))


def fluxes_of(visits: Visits, course: Course) -> Fluxes:
    """Mean sums of a visit by state, turning in the sense in which the shaft went farther; the other way they change
    their sign."""
    farther = 1 if int(course.sense.sum()) >= 0 else -1
    chosen = (course.sense != 0) & (visits.loud > 0.0)
    state, sense = visits.state[chosen], course.sense[chosen] * farther
    count = np.bincount(state, minlength=STATES)
    each = np.maximum(count, 1)
    leads = np.zeros((STATES, 3))
    np.add.at(leads, state, visits.leads_v_s[chosen] * sense[:, None])
    spread = np.bincount(state, visits.spread_v_s[chosen], STATES)
    return Fluxes(leads / each[:, None], spread / each, count.astype(np.int64))


def came_and_stayed(visits: Visits) -> NDArray[np.int64]:
    """How often the shaft passed through each state, longer than a glitch would last: (8,)."""
    lasted = (visits.end_tick - visits.begin_tick).astype(np.float64)
    beside = np.minimum(np.roll(lasted, 1), np.roll(lasted, -1))
    passed = (visits.before != visits.after) & (lasted > _ILLEGAL_SHARE * beside)
    return np.bincount(visits.state[passed], minlength=STATES).astype(np.int64)


def _odd(came: NDArray[np.int64], lasted: NDArray[np.float64]) -> int | None:
    """Of the input that is odd: just one pair of opposite states stays away, or lasts or comes so much less than the
    others that it is no matter of wiring."""
    pairs = came[:4] + came[:3:-1]
    rarest = int(np.argmin(pairs))
    if np.count_nonzero(pairs) == 3:
        return ODD[rarest]
    time = lasted[:4] + lasted[:3:-1]
    least, next_one, _, _ = np.argsort(time, kind="stable")
    if 0.0 < _MUCH * time[least] <= time[next_one]:  # short visits that mean nothing may outnumber the others
        return ODD[int(least)]
    others = np.delete(pairs, rarest)
    return ODD[rarest] if others.min() > 0 and _RARE * pairs[rarest] <= others.min() else None


def _steps(of_state: NDArray[np.int64], one: NDArray[np.int64], other: NDArray[np.int64]) -> NDArray[np.int64]:
    """Signed sectors from state to state; 0 where one of them is no sector or is not known."""
    both = np.stack((of_state[one], of_state[other]))
    steps = steps_between(both.T.reshape(-1))[::2]
    return np.where((both > 0).all(axis=0) & (one >= 0), steps, 0)
