"""How much heat a motor's current has left in it, as an overload relay of a trip class would judge it. Pure.

One body of one time constant: d(load)/dt = (i^2 - load) / tau with i the current as a part of the rated one (first
order, IEC 60255-149, from memory); the relay trips at load = PICK_UP^2. It is an estimate by the current alone: it
knows no fan that is blocked and no warm room. What stands cools slower than what turns, as its own fan stands too
(common practice, no published source): by how much no plate says, so it cools here with the tau that it warms with.
"""

from dataclasses import dataclass, replace
from math import exp, inf, isfinite, log

from server.alarms.seen import Seen
from server.config import TRIP_CLASSES
from server.motors import MOTOR_TYPES
from server.readings import Confidence, Doubt, Reading

PICK_UP = 1.1  # of the rated current: at 1.05 a relay must not trip, at 1.2 it must (IEC 60947-4-1, from memory)
START = 7.2  # of the rated current: where trip classes are told apart, from cold (likewise)
# How long it takes there: the middle of what is allowed where least is allowed (tolerance band E: 3 to 5 s, 5 to 10,
# 10 to 20, 20 to 30; 10A has none and may take 2 to 10; likewise). One tau then trips well within the limits at 1.5.
_TRIPS_S = dict(zip(TRIP_CLASSES, (4.0, 6.0, 7.5, 15.0, 25.0), strict=True))
_RATIO_MAX = 30.0  # no motor draws as much for a window: one that is wrong alone raises nothing
LOAD_MAX = _RATIO_MAX**2
_HOT_ENOUGH = Doubt.AT_LEAST | Doubt.OF_ALL_THE_WINDOW  # heat goes by squares over all of a window; the least is some
_CURRENT = "current_rms_a"
# The main current stands without a place. A relay looks at all lines: one that has more makes it trip.
_LINES = (_CURRENT, *dict.fromkeys(f"{_CURRENT}.{place}" for each in MOTOR_TYPES for place in each.phases))


@dataclass(frozen=True, slots=True)
class Heat:
    """`load`: the square of the part of `rated_a` that would keep it so warm for good, 0: cold. `board_s`: until when
    it is known, in board time."""

    load: float = 0.0
    rated_a: float | None = None
    board_s: float | None = None

    @property
    def percent(self) -> float:
        """Of the load at which a relay trips."""
        return 100.0 * self.load / PICK_UP**2


def warmed(load: float, ratio: float, seconds: float, tau_s: float) -> float:
    """The load after so long at a constant current of `ratio` times the rated one: exact for any step."""
    still = exp(-seconds / tau_s)
    return load * still + ratio * ratio * (1.0 - still)


def trips_after_s(load: float, ratio: float, tau_s: float, pick_up: float = PICK_UP) -> float:
    """How long a relay takes from this load at a constant current of `ratio` times the rated one; inf: it never trips.

    t = tau ln((i^2 - load) / (i^2 - pick_up^2)): IEC 60255-149, from memory.
    """
    heat, end = ratio * ratio, pick_up * pick_up
    if load >= end:
        return 0.0
    return tau_s * log((heat - load) / (heat - end)) if heat > end else inf


TAU_S = {trip_class: trips_s / trips_after_s(0.0, START, 1.0) for trip_class, trips_s in _TRIPS_S.items()}


def heated(heat: Heat, seen: Seen, trip_class: str) -> Heat:
    """One window more. What was not seen, by a gap, a current in doubt or a service that did not run, leaves the load
    as it is: it may have run or rested, and an estimate that is too warm does less harm than one that is too cold.
    So a current that is known to be at least so much, as one that clips, warms and does not cool."""
    drawn = drawn_a(seen)
    if seen.rated_a is None or seen.board_s is None or drawn is None:
        return heat
    amps, is_least = drawn
    if heat.rated_a != seen.rated_a:  # another motor, of which nothing is known
        heat = Heat(rated_a=seen.rated_a)
    since_s = inf if heat.board_s is None else max(seen.board_s - heat.board_s, 0.0)
    ratio = min(amps / seen.rated_a, _RATIO_MAX)
    load = warmed(heat.load, ratio, min(since_s, seen.interval_s), TAU_S[trip_class])
    return replace(heat, load=max(load, heat.load) if is_least else load, board_s=seen.board_s)


def line_currents(seen: Seen) -> list[Reading]:
    """The RMS of each line or phase that this window tells of."""
    return [seen.readings[key] for key in _LINES if key in seen.readings]


def drawn_a(seen: Seen) -> tuple[float, bool] | None:
    """The highest of the line currents that tell of heat, and whether it is at least so much; of a motor that rests 0
    where none does. None: not known."""
    telling = [
        (abs(reading.value), Doubt.AT_LEAST in reading.doubt)
        for reading in line_currents(seen)
        if _tells(reading) and isinstance(reading.value, float) and isfinite(reading.value)
    ]
    if telling:
        return max(telling)
    state = seen.readings.get("run_state")
    rests = state is not None and state.confidence is Confidence.GOOD and state.value == "resting"
    return (0.0, False) if rests else None


def _tells(reading: Reading) -> bool:
    return reading.confidence is Confidence.GOOD or bool(reading.doubt and not reading.doubt & ~_HOT_ENOUGH)
