"""What is drawn against electrical angle is what a motor worked out from first principles does there."""

import numpy as np
import pytest

from server.wiring.around import BIN_DEG, BINS, Around, late_deg, right_rise_deg, right_states, rises_deg
from server.wiring.order import order_verdict
from server.wiring.shown import timing_record
from tests.server.procedures.hands import grounds
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


def test_turned_backward_everything_stands_at_the_same_places_of_the_rotor() -> None:
    ahead, back = around(Hand(turns=6.0)), around(Hand(turns=6.0, direction=-1))
    assert (ahead.sense, back.sense) == (1, -1)
    # Turned backward the same motor would run against the hand: its edges are right for the other way round.
    assert right_rise_deg(-1, ahead=False) == right_rise_deg(1, ahead=True) == (30.0, 150.0, 270.0)
    assert rises_deg(back.shares()) == pytest.approx(right_rise_deg(-1, ahead=False), abs=1.5)
    scale = float(np.abs(ahead.volts()).max())
    assert np.abs(back.volts() - ahead.volts()).max() < 0.1 * scale


# The published table of 120-degree sensors: angle of the rotor, state, the pair that a drive takes; sector 1 first.
TABLE = ((30, 5, "UV"), (90, 1, "UW"), (150, 3, "VW"), (210, 2, "VU"), (270, 6, "WU"), (330, 4, "WV"))


@pytest.mark.parametrize("direction", [1, -1])
def test_the_drawing_of_a_right_motor_is_the_commutation_table_whichever_way_it_is_turned(direction: int) -> None:
    hand = Hand(turns=6.0, direction=direction)
    record = timing_record(around(hand), order_verdict(grounds(hand)))
    assert record is not None
    assert record["found"] == record["right"] == [state for _, state, _ in TABLE]
    for begins_deg, _, driven in TABLE:
        plus, minus = driven[0], driven[1]
        middle = round((begins_deg + 30.0) / BIN_DEG) % BINS
        pair = f"{plus}{minus}"
        told = record["volts"][pair][middle] if pair in record["volts"] else -record["volts"][f"{minus}{plus}"][middle]
        assert told > 0.95 * record["peak_v"]  # in each sector the pair that is driven has the greatest voltage


def test_a_sensor_behind_its_place_stands_there_both_ways_late_one_way_and_early_the_other() -> None:
    told = {}
    for direction in (1, -1):
        hand = Hand(turns=6.0, late_deg=12.0, direction=direction)
        record = timing_record(around(hand), order_verdict(grounds(hand)))
        assert record is not None
        told[direction] = [(each["rise_deg"], each["late_deg"], each["words"][0][-5:]) for each in record["halls"]]
    for (ahead, late, word), (back, early, other), right in zip(told[1], told[-1], (30.0, 150.0, 270.0), strict=True):
        assert (ahead, back) == pytest.approx((right + 12.0, right + 12.0), abs=1.5)
        assert (late, early) == pytest.approx((12.0, -12.0), abs=1.5)
        assert (word, other) == (" late", "early")


@pytest.mark.parametrize("late", [-20.0, 12.0])
def test_edges_that_come_late_are_late_by_that_much(late: float) -> None:
    found = around(Hand(turns=6.0, late_deg=late))
    for rise, right in zip(rises_deg(found.shares()), right_rise_deg(1, ahead=True), strict=True):
        assert rise is not None
        assert late_deg(rise, right, 1) == pytest.approx(late, abs=1.5)


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
