"""Where the rotor is, which way it turns, and whether the Hall states come in their order. Pure.

From Hall signals alone: two wires exchanged look like turning backwards, so "right" speaks of the order, not of the
wiring.
"""

from typing import NamedTuple

import numpy as np

from server.hall.budget import Standard
from server.hall.estimate import Estimate
from server.hall.inputs import Halls
from server.hall.motion import EDGES_PER_TURN, Motion
from server.hall.table import SECTOR_1_BEGINS_DEG, SECTOR_DEG, sectors
from server.hall.tail import Tail
from server.readings import Reading, absent, doubtful

UNKNOWN_PAIRS = "pole pairs are not known"


class Told(NamedTuple):
    """A reading, the first tick of what it rests on, and its budget in the unit of the reading (empty: not known)."""

    reading: Reading
    first_tick: int
    parts: tuple[Standard, ...] = ()


def place(
    tail: Tail, motion: Motion, shaft: Halls, estimate: Estimate, newest_tick: int, end_tick: int, tick_hz: float
) -> list[Told]:
    """Hall state, sector and electrical angle."""
    state = int(tail.states[-1]) if tail.states.size else tail.before
    keys = ("hall_state", "sector", "electrical_deg")
    if state is None:
        return [Told(absent(key, "no edge so far: the level is not known"), newest_tick) for key in keys]
    sector = int(sectors(shaft.spacing_deg)[state])
    since = tail.since(tail.ticks.shape[0] - 1)
    told = [Told(Reading("hall_state", state), since)]
    if not sector:
        reason = f"state {state} does not come with {shaft.spacing_deg}° sensors"
        return told + [Told(absent(key, reason), since) for key in keys[1:]]
    since_s = (end_tick - newest_tick) / tick_hz
    angle = _angle(sector, motion, estimate, shaft.pole_pairs or 1, since_s)
    return [*told, Told(Reading("sector", sector), since), Told(angle, min(since, estimate.first_tick))]


def _angle(sector: int, motion: Motion, estimate: Estimate, pole_pairs: int, since_s: float) -> Reading:
    """Turning: from the last edge on at the speed, held at the next boundary. Else the middle of the sector."""
    begins = SECTOR_1_BEGINS_DEG + SECTOR_DEG * (sector - 1)
    if not estimate.rpm or not motion.run.size or motion.run[-1] == 0:
        middle = Reading("electrical_deg", (begins + SECTOR_DEG / 2) % 360.0)
        return doubtful(middle, "somewhere in this sector")
    turned = min(6.0 * abs(estimate.rpm) * pole_pairs * since_s, SECTOR_DEG)
    reading = Reading("electrical_deg", (begins + (turned if motion.step[-1] > 0 else SECTOR_DEG - turned)) % 360.0)
    return doubtful(reading, estimate.reason) if estimate.reason else reading


def direction(tail: Tail, motion: Motion, estimate: Estimate, stopped_rpm: float) -> Told:
    """Forward is the order of sectors 1 2 3; it takes two steps in one direction to be sure."""
    if estimate.rpm is not None and abs(estimate.rpm) <= stopped_rpm:
        reading = Reading("direction", "standing")
        return Told(doubtful(reading, estimate.reason) if estimate.reason else reading, estimate.first_tick)
    if not tail.ticks.size or motion.run[-1] == 0:
        reason = "the last states did not come in turn" if tail.ticks.size else "no edge so far"
        return Told(absent("direction", reason), tail.first_tick)
    reading = Reading("direction", "forward" if motion.step[-1] > 0 else "backward")
    since = tail.since(tail.ticks.shape[0] - 3)  # the last two steps, and the state before them
    reading = doubtful(reading, "one step only") if motion.run[-1] < 2 else reading
    return Told(reading, min(since, estimate.first_tick))  # and that it does not stand


def order(tail: Tail, motion: Motion, window_first_tick: int) -> list[Told]:
    """Whether the states came in turn over the window, at least over the last electrical turn; and the last six."""
    count = tail.ticks.shape[0]
    if count == 0:
        reason = "no edge so far: turn the shaft"
        keys = ("commutation_valid", "steps_in_order_percent", "state_order")
        return [Told(absent(key, reason), tail.first_tick) for key in keys]
    begin = min(int(tail.ticks.searchsorted(window_first_tick, side="right")), max(0, count - EDGES_PER_TURN))
    steps = motion.step[begin:]
    if begin == 0 and tail.before is None:
        steps = steps[1:]  # the first state came from one that is not known
    in_order = np.abs(steps) == 1  # 0 where a state is illegal
    right = bool(in_order.all() and motion.legal[begin:].all())
    verdict = Reading("commutation_valid", "right" if right else "wrong")
    if right and steps.shape[0] < EDGES_PER_TURN:
        verdict = doubtful(verdict, f"less than one electrical turn: steps so far: {steps.shape[0]}")
    states = tail.states[-EDGES_PER_TURN:].tolist()
    since = tail.since(begin - 1)
    share = Reading("steps_in_order_percent", 100.0 * float(in_order.mean()) if in_order.size else 0.0)
    share = doubtful(share, verdict.reason) if verdict.reason else share
    if not in_order.size:
        share = absent("steps_in_order_percent", "no step so far")
    order_of = Reading("state_order", " ".join(map(str, states)))
    return [Told(verdict, since), Told(share, since), Told(order_of, since)]


def mechanical(electrical: Told, pole_pairs: int | None) -> Told:
    """The shaft's angle, which of one pole pair is the electrical one; of more, which of them it is cannot be known."""
    if pole_pairs != 1:
        reason = (
            f"in which of the {pole_pairs} pole pairs it is cannot be told"
            if pole_pairs
            else "pole pairs are not known"
        )
        return Told(absent("mechanical_deg", reason), electrical.first_tick)
    of = electrical.reading
    return Told(Reading("mechanical_deg", of.value, of.confidence, of.reason), electrical.first_tick)


def after_pulse(estimate: Estimate, newest_tick: int, pulses_per_turn: int, end_tick: int, tick_hz: float) -> Told:
    """The shaft's angle since the pulse of this turn, at the speed; held where the next pulse is late."""
    if pulses_per_turn != 1:
        reason = f"which of the {pulses_per_turn} pulses came last cannot be told"
        return Told(absent("mechanical_deg", reason), estimate.first_tick)
    if not estimate.rpm:
        return Told(absent("mechanical_deg", estimate.reason or "it stands"), estimate.first_tick)
    turned = min(6.0 * estimate.rpm * (end_tick - newest_tick) / tick_hz, 360.0)
    reading = Reading("mechanical_deg", turned)
    return Told(doubtful(reading, estimate.reason) if estimate.reason else reading, estimate.first_tick)
