"""What is drawn against electrical angle is what a motor worked out from first principles does there."""

import numpy as np
import pytest

from server.wiring.around import BIN_DEG, BINS, Around, late_deg, right_rise_deg, right_states, rises_deg
from tests.server.wiring.turned import TICK_HZ, Hand, trapezoid, turned_by_hand


def around(hand: Hand) -> Around:
    found = Around()
    tail, leads = turned_by_hand(hand)
    found.take(leads, tail, TICK_HZ)
    return found


def test_a_right_motor_shows_trapezoids_and_edges_at_30_150_and_270_degrees() -> None:
    found = around(Hand(turns=6.0))
    assert found.sense == 1
    assert found.complete
    assert rises_deg(found.shares()) == pytest.approx([30.0, 150.0, 270.0], abs=1.5)
    volts, middle = found.volts(), np.asarray((np.arange(BINS) + 0.5) * BIN_DEG, dtype=np.float64)
    expected = trapezoid(middle) - trapezoid(middle - 240.0)  # U less W, whatever the hand did
    scale = float(np.abs(volts).max()) / 2.0
    assert np.abs(volts[0] / scale - expected).max() < 0.25  # the angle of a trapezoid's vector runs by 1 degree


def test_turned_backward_the_angle_still_grows_and_the_leads_come_the_other_way_round() -> None:
    found = around(Hand(turns=6.0, direction=-1))
    assert found.sense == -1
    # Turned backward the same motor would run against the hand: its edges are right for the other way round.
    for rise, right in zip(rises_deg(found.shares()), right_rise_deg(-1, ahead=False), strict=True):
        assert rise is not None
        assert late_deg(rise, right) == pytest.approx(0.0, abs=1.5)


@pytest.mark.parametrize("late", [-20.0, 12.0])
def test_edges_that_come_late_are_late_by_that_much(late: float) -> None:
    found = around(Hand(turns=6.0, late_deg=late))
    for rise, right in zip(rises_deg(found.shares()), right_rise_deg(1, ahead=True), strict=True):
        assert rise is not None
        assert late_deg(rise, right) == pytest.approx(late, abs=1.5)


def test_exchanged_wires_stand_120_degrees_from_where_they_belong() -> None:
    found = around(Hand(halls=(0, 2, 1), turns=6.0))
    a, b, c = rises_deg(found.shares())
    assert (a, b, c) == pytest.approx((30.0, 270.0, 150.0), abs=1.5)


def test_right_states_are_those_of_the_commutation_table_and_backward_their_opposites() -> None:
    # The published order of 120-degree sensors, from the sector in which A rises.
    assert right_states(1, ahead=True) == (5, 1, 3, 2, 6, 4)
    assert right_states(1, ahead=False) == (2, 6, 4, 5, 1, 3)


def test_what_goes_to_and_fro_or_stands_adds_nothing() -> None:
    found = around(Hand(turns=0.2))
    assert found.turns == 0.0
    assert not found.complete
