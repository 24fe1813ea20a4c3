"""Readings of the shaft at a moment: speed, Hall state, sector, state order, direction.

Everything rests on the edges before the moment, each reading on its own stretch of them; where edges may be missing
in that stretch, the reading is doubtful. No state is carried from one call to the next.
"""

from math import ceil
from typing import NamedTuple

import numpy as np

from server.config import Plate
from server.hall.inputs import REST_RPM_SHARE, Halls, Pulse, shaft_inputs
from server.hall.motion import EDGES_PER_TURN, Motion, motion_of
from server.hall.pulses import rising_edges
from server.hall.speed import Estimate, from_halls, from_pulses
from server.hall.table import FORWARD, SECTOR_1_BEGINS_DEG, SECTOR_DEG, sectors
from server.hall.tail import Tail, doubt_in, tail_of
from server.readings import Reading, absent, doubtful
from server.samples import EdgeTrain

_MAYBE_LOST = "an edge may be missing: frames were damaged"


class EdgeReadings(NamedTuple):
    """What the edges say at a moment, and the first tick that any of it rests on."""

    readings: list[Reading]
    first_tick: int


def edge_readings(
    train: EdgeTrain, first_tick: int, end_tick: int, plate: Plate, stopped_rpm: float = 5.0
) -> EdgeReadings:
    """Readings at `end_tick` of the window that began at `first_tick`; none where no input speaks of the shaft.

    The train should reach back 24 s before the window (a shaft with one pulse a turn takes that long to prove that
    it stands), or over the last 6 p + 8 Hall edges, whichever is longer; older edges change nothing.
    """
    shaft = shaft_inputs(train.inputs, plate)
    if shaft is None:
        return EdgeReadings([], first_tick)
    if isinstance(shaft, Pulse):
        return _pulse_readings(train, shaft, first_tick, end_tick, stopped_rpm)
    return _hall_readings(train, shaft, first_tick, end_tick, stopped_rpm)


def _pulse_readings(train: EdgeTrain, shaft: Pulse, first_tick: int, end_tick: int, stopped_rpm: float) -> EdgeReadings:
    if not shaft.pulses_per_turn:
        return EdgeReadings([absent("speed_rpm", "pulses in a turn are not known")], first_tick)
    ticks, reaches = rising_edges(train, shaft.bit, first_tick, end_tick, 1)
    estimate = from_pulses(ticks, reaches, shaft.pulses_per_turn, first_tick, end_tick, train.tick_hz)
    newest = int(ticks[-1]) if ticks.size else reaches
    estimate = _at_rest(estimate, newest, 60.0 / shaft.pulses_per_turn, end_tick, train.tick_hz, stopped_rpm)
    return EdgeReadings([_judged("speed_rpm", estimate, train, end_tick)], min(estimate.first_tick, first_tick))


def _at_rest(
    estimate: Estimate, newest_tick: int, rpm_at_1_s: float, end_tick: int, tick_hz: float, stopped_rpm: float
) -> Estimate:
    """The bound since the newest edge where it is under the stopped speed: then the shaft stands, and no more is asked.

    Below half the stopped speed the figure is 0, so that a reading at rest looks back over a bounded time.
    """
    age_s = (end_tick - newest_tick) / tick_hz
    bound = rpm_at_1_s / age_s if age_s > 0 else float("inf")
    if bound > stopped_rpm:
        return estimate
    lowest = REST_RPM_SHARE * stopped_rpm
    if bound > lowest:
        return Estimate(bound, "", newest_tick)
    return Estimate(0.0, "", end_tick - ceil(tick_hz * rpm_at_1_s / lowest))


def _judged(key: str, estimate: Estimate, train: EdgeTrain, end_tick: int) -> Reading:
    if estimate.rpm is None:
        return absent(key, estimate.reason)
    reading = Reading(key, estimate.rpm)
    if estimate.reason:
        reading = doubtful(reading, estimate.reason)
    return doubtful(reading, _MAYBE_LOST) if doubt_in(train, estimate.first_tick, end_tick) else reading


def _hall_readings(train: EdgeTrain, shaft: Halls, first_tick: int, end_tick: int, stopped_rpm: float) -> EdgeReadings:
    more = EDGES_PER_TURN * (shaft.pole_pairs or 1) + 2
    tail = tail_of(train, shaft.bits, first_tick, end_tick, more)
    motion = motion_of(tail, shaft.spacing_deg, train.tick_hz)
    newest = int(tail.ticks[-1]) if tail.ticks.size else tail.first_tick
    pairs = shaft.pole_pairs or 1
    estimate = from_halls(tail, motion, pairs, first_tick, end_tick, train.tick_hz)
    estimate = _at_rest(estimate, newest, 10.0 / pairs, end_tick, train.tick_hz, stopped_rpm)
    speed = _judged("speed_rpm", estimate, train, end_tick)
    readings = [*_speeds(speed, shaft.pole_pairs), *_places(tail, motion, shaft, train, newest, end_tick, speed)]
    order, order_tick = _order(tail, motion, first_tick, train, end_tick)
    readings += order
    readings.append(_direction(tail, motion, speed, stopped_rpm, train, end_tick))
    return EdgeReadings(readings, min(estimate.first_tick, order_tick, newest, first_tick))


def _speeds(speed: Reading, pole_pairs: int | None) -> list[Reading]:
    """Shaft speed, and the frequency of the phase currents that belongs to it; without pole pairs only the latter."""
    if not isinstance(speed.value, float):
        return [speed, absent("electrical_frequency_hz", speed.reason)]
    hertz = Reading(
        "electrical_frequency_hz", abs(speed.value) * (pole_pairs or 1) / 60.0, speed.confidence, speed.reason
    )
    if pole_pairs is None:
        return [absent("speed_rpm", "pole pairs are not known"), hertz]
    return [speed, hertz]


def _places(
    tail: Tail, motion: Motion, shaft: Halls, train: EdgeTrain, newest: int, end_tick: int, speed: Reading
) -> list[Reading]:
    state = int(tail.states[-1]) if tail.states.size else tail.before
    if state is None:
        reason = "no edge yet: the level is not known"
        return [absent(key, reason) for key in ("hall_state", "sector", "electrical_deg")]
    lost = doubt_in(train, newest, end_tick)
    sector = int(sectors(shaft.spacing_deg)[state])
    found = [Reading("hall_state", state)]
    if sector:
        found += [Reading("sector", sector), _angle(sector, tail, motion, shaft, speed, end_tick, train.tick_hz)]
    else:
        reason = f"state {state} does not come with {shaft.spacing_deg}° sensors"
        found += [absent("sector", reason), absent("electrical_deg", reason)]
    return [doubtful(reading, _MAYBE_LOST) for reading in found] if lost else found


def _angle(
    sector: int, tail: Tail, motion: Motion, shaft: Halls, speed: Reading, end_tick: int, tick_hz: float
) -> Reading:
    """Middle of the sector at rest; turning, from the last edge on at the speed, held at the next boundary."""
    begins = SECTOR_1_BEGINS_DEG + SECTOR_DEG * (sector - 1)
    moving = isinstance(speed.value, float) and speed.value != 0.0 and tail.ticks.size and motion.run[-1] > 0
    if not moving:
        return doubtful(Reading("electrical_deg", (begins + SECTOR_DEG / 2) % 360.0), "somewhere in this sector")
    assert isinstance(speed.value, float)
    turned = 6.0 * abs(speed.value) * (shaft.pole_pairs or 1) * (end_tick - int(tail.ticks[-1])) / tick_hz
    turned = min(turned, SECTOR_DEG)
    angle = begins + turned if motion.step[-1] > 0 else begins + SECTOR_DEG - turned
    return Reading("electrical_deg", angle % 360.0, speed.confidence, speed.reason)


def _order(tail: Tail, motion: Motion, first_tick: int, train: EdgeTrain, end_tick: int) -> tuple[list[Reading], int]:
    """Whether the states came in turn, over the window and at least the last electrical turn, and which came."""
    count = tail.ticks.shape[0]
    begin = min(int(tail.ticks.searchsorted(first_tick, side="right")), max(0, count - EDGES_PER_TURN))
    if count == 0:
        reason = "no edge yet: turn the shaft"
        return [absent("commutation_valid", reason), absent("state_order", reason)], first_tick
    states = tail.states[max(0, count - EDGES_PER_TURN) :]
    since = int(tail.ticks[begin - 1]) if begin else tail.first_tick
    steps = motion.step[begin:] if begin or motion.step[0] else motion.step[1:]
    right = bool((np.abs(steps) == 1).all() and motion.legal[begin:].all())
    verdict = Reading("commutation_valid", "right" if right else "wrong")
    shown = Reading("state_order", " ".join(map(str, states.tolist())))
    if count - begin < EDGES_PER_TURN and right:
        verdict = doubtful(verdict, f"{count - begin} edges so far: turn further")
    if doubt_in(train, since, end_tick):
        return [doubtful(verdict, _MAYBE_LOST), doubtful(shown, _MAYBE_LOST)], since
    return [verdict, shown], since


def _direction(
    tail: Tail, motion: Motion, speed: Reading, stopped_rpm: float, train: EdgeTrain, end_tick: int
) -> Reading:
    """Forward is the order of sectors 1 2 3; it takes two steps in one direction to be sure."""
    if isinstance(speed.value, float) and abs(speed.value) <= stopped_rpm:
        return Reading("direction", "standing", speed.confidence, speed.reason)
    if not tail.ticks.size or motion.run[-1] == 0:
        return absent("direction", "the last states did not come in turn")
    reading = Reading("direction", "forward" if motion.step[-1] > 0 else "backward")
    if motion.run[-1] < 2:
        reading = doubtful(reading, "one step only")
    return doubtful(reading, _MAYBE_LOST) if doubt_in(train, int(tail.ticks[-2:][0]), end_tick) else reading


def right_order(spacing_deg: int) -> tuple[int, ...]:
    """The six states in the order they come turning forward."""
    return FORWARD[spacing_deg]
