"""A drive that does not chop, with current channels that read nothing, is not taken for a hand that turns the shaft."""

import numpy as np
import pytest

from server.verdict import Certainty
from server.wiring.grounds import Grounds, Known
from server.wiring.order import ONE_SPEED, order_verdict
from server.wiring.verdicts import verdicts
from tests.server.wiring.shaft import TICK_HZ, Bench, Edges, Floats, Motor, edges_of

# The published table of 120-degree sensors: the pair that a drive takes in each state.
DRIVEN = {5: (0, 1), 1: (0, 2), 3: (1, 2), 2: (1, 0), 6: (2, 0), 4: (2, 1)}
LINK_V, SECONDS = 12.0, 4.0


def bridge_volts(motor: Motor, edges: Edges, angle: Floats, time: Floats, rate_hz: float) -> Floats:
    """What a six-step bridge puts on three leads: the link on the pair of the state, the third between with its EMF."""
    at = np.arange(round(SECONDS * rate_hz)) / rate_hz
    states = np.concatenate(([edges.before], edges.states))[np.searchsorted(edges.ticks, at * TICK_HZ, side="right")]
    volts = np.full((3, at.size), LINK_V / 2.0)
    emf = 0.5 * motor.volts * np.gradient(np.interp(at, time, angle)) * rate_hz / 1000.0
    for lead, phase in enumerate(motor.phases):
        volts[lead] += emf * np.sin(np.radians(np.interp(at, time, angle) - 120.0 * phase))
    for state, (plus, minus) in DRIVEN.items():
        volts[plus, states == state], volts[minus, states == state] = LINK_V, 0.0
    return np.asarray(np.round(volts / 0.02) * 0.02)


def driven(motor: Motor, slow_hz: float, fast_hz: float) -> Grounds:
    """Electrical turns a second, from the one to the other."""
    time = np.arange(0.0, SECONDS, 2e-4)
    angle = 360.0 * (slow_hz * time + (fast_hz - slow_hz) * time**2 / (2.0 * SECONDS)) + 10.0
    edges, bench = edges_of(motor, time, angle), Bench(known=Known(turned_forward=True, pole_pairs=7))
    return bench.grounds(edges, bridge_volts(motor, edges, angle, time, bench.rate_hz), SECONDS)


@pytest.mark.parametrize("motor", [Motor(sine=1.0), Motor(phases=(1, 2, 0)), Motor(place=(0.0, 12.0, 0.0))])
def test_voltages_that_do_not_follow_the_speed_are_those_of_a_drive(motor: Motor) -> None:
    grounds = driven(motor, 2.0, 8.0)
    told = verdicts(grounds)
    first = told.verdicts[0]
    assert first.key == "voltages_driven"
    assert "1 times as high: those of windings are 3." in first.signs[0].text
    assert first.next_test is not None
    assert first.next_test.text.startswith("Unplug the drive")
    assert told.alignment is None
    assert order_verdict(grounds).verdict.certainty is Certainty.OPEN  # as the guided check asks
    assert not told.order.mends


def test_at_one_speed_it_is_said_that_a_drive_would_look_the_same() -> None:
    verdict = order_verdict(driven(Motor(sine=1.0), 6.0, 6.5)).verdict
    assert verdict.key == "commutation_good"
    assert ONE_SPEED in verdict.open
