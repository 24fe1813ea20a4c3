"""Readings of the shaft at a moment, each with the stretch of edges that it rests on.

Where edges may be missing in that stretch, the reading is doubtful. No state is carried from one call to the next.
"""

from typing import NamedTuple

import numpy as np

from server.config import Plate
from server.hall.budget import Standard
from server.hall.estimate import Estimate, from_halls, from_pulses, or_at_rest
from server.hall.inputs import Halls, Pulse, shaft_inputs
from server.hall.motion import EDGES_PER_TURN, Motion, motion_of
from server.hall.pulses import rising_edges
from server.hall.rotor import UNKNOWN_PAIRS, Told, after_pulse, direction, mechanical, order, place
from server.hall.speeds import Edges, edge_speeds, learned_edges
from server.hall.tail import Tail, doubt_in, tail_of
from server.readings import Confidence, Doubt, Reading, absent, doubtful
from server.samples import EdgeTrain

MAYBE_LOST = "an edge may be missing: frames were damaged"


class EdgeReadings(NamedTuple):
    """What the edges say at a moment. `first_ticks`: damage that ends before it changes no value of the reading at the
    same place; `first_tick` is the lowest of them. `budgets`: of each reading, in its unit, but for
    the board's clock; empty where not known."""

    readings: list[Reading]
    first_tick: int
    first_ticks: list[int]
    budgets: tuple[tuple[Standard, ...], ...] = ()


def edge_readings(
    train: EdgeTrain, first_tick: int, end_tick: int, plate: Plate, stopped_rpm: float = 5.0
) -> EdgeReadings:
    """Readings at `end_tick` of the window that began at `first_tick`; none where no input speaks of the shaft.

    The train should reach back 36 s before the window (a shaft with one pulse a turn takes 12 s to prove that it
    stands, and an interval that long is held against the one before) or over 370 Hall edges, whichever is shorter;
    edges older than that change nothing.
    """
    shaft = shaft_inputs(train.inputs, plate)
    if shaft is None:
        told = []
    elif isinstance(shaft, Pulse):
        told = _from_pulse(train, shaft, first_tick, end_tick, stopped_rpm)
    else:
        told = _from_halls(train, shaft, first_tick, end_tick, stopped_rpm)
    readings = [
        _unsure(each.reading) if doubt_in(train, _asked_from(each, train), end_tick) else each.reading for each in told
    ]
    first_ticks = [_edge_before(train, each.first_tick) for each in told]
    budgets = tuple([each.parts for each in told])
    return EdgeReadings(readings, min(first_ticks, default=first_tick), first_ticks, budgets)


def _unsure(reading: Reading) -> Reading:
    """An absent one says so too: it might be there."""
    if reading.confidence is Confidence.ABSENT:
        return absent(reading.key, f"{reading.reason}; {MAYBE_LOST}", reading.place, Doubt.EDGE_MAY_BE_MISSING)
    return doubtful(reading, MAYBE_LOST, Doubt.EDGE_MAY_BE_MISSING)


def _asked_from(told: Told, train: EdgeTrain) -> int:
    """Since when an edge that is missing would matter: of a level, not before the board last told it."""
    if told.reading.key in ("hall_state", "sector"):
        return max(told.first_tick, train.level_tick + 1)
    return told.first_tick


def _edge_before(train: EdgeTrain, tick: int) -> int:
    """An edge is one only against the state before it: damage that ends before this tick changes nothing after it."""
    index = int(train.ticks.searchsorted(tick))
    return int(train.ticks[index - 1]) if index else train.known_from_tick


def _told(key: str, estimate: Estimate, factor: float = 1.0) -> Told:
    if estimate.rpm is None:
        return Told(absent(key, estimate.reason), estimate.first_tick)
    value = estimate.rpm * factor
    reading = Reading(key, value)
    parts = tuple([(what, abs(value) * part, dof) for what, part, dof in estimate.parts])
    doubted = doubtful(reading, estimate.reason, estimate.doubt) if estimate.reason else reading
    return Told(doubted, estimate.first_tick, parts)


def _inside(train: EdgeTrain, first_tick: int, end_tick: int) -> int:
    """Edges of all inputs in the window; more than those of the shaft alone where another input moves."""
    first, stop = train.ticks.searchsorted((first_tick, end_tick), side="right").tolist()
    inside: int = stop - first
    return inside


def _source(speed: Told, estimate: Estimate) -> Told:
    """Over what the speed was taken, in words."""
    if speed.reading.value is None:
        return Told(absent("speed_source", speed.reading.reason), speed.first_tick)
    return Told(Reading("speed_source", estimate.source), speed.first_tick)


def _from_pulse(train: EdgeTrain, shaft: Pulse, first_tick: int, end_tick: int, stopped_rpm: float) -> list[Told]:
    per_turn = shaft.pulses_per_turn
    if not per_turn:
        unknown = "pulses in a turn are not known"
        return [Told(absent("speed_rpm", unknown), first_tick), Told(absent("speed_source", unknown), first_tick)]
    more = max(4, learned_edges(per_turn, _inside(train, first_tick, end_tick) // 2))
    ticks, reaches = rising_edges(train, shaft.bit, first_tick, end_tick, more)
    estimate = from_pulses(ticks, reaches, per_turn, first_tick, end_tick, train.tick_hz, stopped_rpm, train.look_ticks)
    newest = int(ticks[-1]) if ticks.size else reaches
    estimate = or_at_rest(estimate, newest, 60.0 / per_turn, end_tick, train.tick_hz, stopped_rpm)
    speed = _told("speed_rpm", estimate)
    since = np.concatenate((np.full(3, reaches), ticks))[: ticks.shape[0]]  # chatter, as `from_pulses` has it
    first = int(ticks.searchsorted(first_tick))
    edges = Edges(ticks, since, reaches, first, per_turn, False, 1.0, train.tick_hz, train.look_ticks)
    angle = after_pulse(estimate, newest, per_turn, end_tick, train.tick_hz)
    return [speed, _source(speed, estimate), *edge_speeds(edges, estimate), angle]


def _from_halls(train: EdgeTrain, shaft: Halls, first_tick: int, end_tick: int, stopped_rpm: float) -> list[Told]:
    pairs = shaft.pole_pairs or 1
    edges = EDGES_PER_TURN * pairs
    more = max(edges, learned_edges(edges, _inside(train, first_tick, end_tick))) + 8
    tail = tail_of(train, shaft.bits, first_tick, end_tick, more)
    motion = motion_of(tail, shaft.spacing_deg, train.tick_hz)
    newest = int(tail.ticks[-1]) if tail.ticks.size else tail.first_tick
    estimate = from_halls(tail, motion, pairs, first_tick, end_tick, train.tick_hz)
    estimate = or_at_rest(estimate, newest, 10.0 / pairs, end_tick, train.tick_hz, stopped_rpm)
    speed = _told("speed_rpm", estimate)
    if shaft.pole_pairs is None:
        speed = Told(absent("speed_rpm", UNKNOWN_PAIRS), first_tick)
    frequency = _told("electrical_frequency_hz", estimate, pairs / 60.0)
    if isinstance(frequency.reading.value, float):
        magnitude = abs(frequency.reading.value)
        reading = Reading(frequency.reading.key, magnitude, frequency.reading.confidence, frequency.reading.reason)
        frequency = Told(reading, frequency.first_tick, frequency.parts)
    turning = direction(tail, motion, estimate, stopped_rpm)
    where = place(tail, motion, shaft, estimate, newest, end_tick, train.tick_hz)
    told = [speed, _source(speed, estimate), turning, *where, *order(tail, motion, first_tick), frequency]
    if shaft.pole_pairs is not None:
        told += edge_speeds(_edges(tail, motion, pairs, first_tick, train.tick_hz), estimate)
    return [*told, mechanical(where[-1], shaft.pole_pairs)]


def _edges(tail: Tail, motion: Motion, pole_pairs: int, first_tick: int, tick_hz: float) -> Edges:
    """The edges of the last run in one direction."""
    count = tail.ticks.shape[0]
    start = count - (int(motion.run[-1]) if count else 0)
    since = tail.sinces(np.arange(start - 1, count - 1))  # the edge before says how long the run is
    first = max(int(tail.ticks.searchsorted(first_tick)) - start, 0)
    run_since = tail.since(start - 1)
    sign = float(motion.step[-1]) if count else 1.0
    return Edges(
        tail.ticks[start:], since, run_since, first, EDGES_PER_TURN * pole_pairs, True, sign, tick_hz, tail.look_ticks
    )
