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
BRIDGED_S = 5.0  # a board that starts anew is read again within it, and a motor seldom rests and starts again (ours)
BACK_S = 1.0  # windows of several groups of channels end less apart: board time that goes back further begins again
_HOT_ENOUGH = Doubt.AT_LEAST | Doubt.OF_ALL_THE_WINDOW  # heat goes by squares over all of a window; the least is some
_CURRENT = "current_rms_a"
# The main current stands without a place. A relay looks at all lines: one that has more makes it trip.
_LINES = (_CURRENT, *dict.fromkeys(f"{_CURRENT}.{place}" for each in MOTOR_TYPES for place in each.phases))


@dataclass(frozen=True, slots=True)
class Heat:
    """`load`: the square of the part of `rated_a` that would keep it so warm for good, 0: cold. Until when it is known:
    `board_s` in board time, None where that has begun again, and `at_utc_s`; `amps` flowed then."""

    load: float = 0.0
    rated_a: float | None = None
    board_s: float | None = None
    at_utc_s: float | None = None
    amps: float = 0.0

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
    """One window more. What was not seen, by a gap, a current in doubt or a service that did not run, cools nothing: it
    may have run or rested, and an estimate that is too warm does less harm than one that is too cold. So a current
    that is known to be at least so much, as one that clips, warms and does not cool.

    Over a short gap, as of a board that starts anew, the lower one of the currents before and behind it is taken to
    have flowed on. Behind a longer one the load is what it was.
    """
    if seen.anew:  # told once, perhaps by a window that tells of no current
        heat = replace(heat, board_s=None)
    drawn = drawn_a(seen)
    if seen.rated_a is None or seen.board_s is None or drawn is None:
        return heat
    amps, is_least = drawn
    heat = _of_plate(heat, seen.rated_a)
    tau_s, since_s = TAU_S[trip_class], _since_s(heat, seen, seen.board_s)
    if since_s == 0.0:
        return heat
    gap_s, before = since_s - seen.interval_s, heat.load
    if 0.0 < gap_s <= BRIDGED_S:
        before = max(before, warmed(before, _ratio(min(amps, heat.amps), seen.rated_a), gap_s, tau_s))
    load = warmed(before, _ratio(amps, seen.rated_a), min(since_s, seen.interval_s), tau_s)
    load = max(load, before) if is_least else load
    return Heat(load, seen.rated_a, seen.board_s, seen.at_utc_s, amps)


def _ratio(amps: float, rated_a: float) -> float:
    return min(amps / rated_a, _RATIO_MAX)


def _of_plate(heat: Heat, rated_a: float) -> Heat:
    """The same heat by the plate as it reads now: the same current has made it, so it goes by the squares. Another
    motor may have come instead, of which nothing is known: then it is too warm for a while."""
    if heat.rated_a in (None, rated_a):
        return replace(heat, rated_a=rated_a)
    return replace(heat, load=min(heat.load * (heat.rated_a / rated_a) ** 2, LOAD_MAX), rated_a=rated_a)


def _since_s(heat: Heat, seen: Seen, board_s: float) -> float:
    """How long ago the load was known: by board time, over starts of the board by the clock of the day. That one may
    step: a window counts by its own length at least. 0: a window of other channels has told of this time."""
    if heat.board_s is not None and board_s > heat.board_s - BACK_S:
        return max(board_s - heat.board_s, 0.0)
    passed_s = inf if heat.at_utc_s is None else seen.at_utc_s - heat.at_utc_s
    return max(passed_s, seen.interval_s)


def line_currents(seen: Seen) -> list[Reading]:
    """The RMS of each line or phase that this window tells of."""
    return [seen.readings[key] for key in _LINES if key in seen.readings]


def drawn_a(seen: Seen) -> tuple[float, bool] | None:
    """The highest of the line currents that tell of heat, and whether there may be more, as one of them is known to be
    at least so much only; of a motor that rests 0 where none tells. None: not known."""
    telling = [
        (abs(reading.value), Doubt.AT_LEAST in reading.doubt)
        for reading in line_currents(seen)
        if _tells(reading) and isinstance(reading.value, float) and isfinite(reading.value)
    ]
    if telling:
        return max(amps for amps, _ in telling), any(is_least for _, is_least in telling)
    state = seen.readings.get("run_state")
    rests = state is not None and state.confidence is Confidence.GOOD and state.value == "resting"
    return (0.0, False) if rests else None


def _tells(reading: Reading) -> bool:
    return reading.confidence is Confidence.GOOD or bool(reading.doubt and not reading.doubt & ~_HOT_ENOUGH)
