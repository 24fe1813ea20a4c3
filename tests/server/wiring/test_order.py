"""Every wiring there is, told right, or left open where no signal can tell it apart."""

import re
from collections import Counter
from dataclasses import replace
from itertools import product

import numpy as np
import pytest

from server.hall.table import DRIVEN, FORWARD
from server.verdict import Certainty
from server.wiring.arrangement import ORDERS, Order, seen_as
from server.wiring.grounds import Grounds, Known
from server.wiring.order import SAME_LEADS, order_verdict
from server.wiring.torque import Runs, runs
from server.wiring.visits import visits_of
from tests.server.wiring.turned import TICK_HZ, Hand, trapezoid, turned_by_hand

# Torque per amp of each wiring over one electrical turn of an ideal motor, by driving it: a sum over angle.
_ANGLES = np.arange(0.125, 360.0, 0.25)
_EMF = np.stack([trapezoid(_ANGLES - 120.0 * phase) for phase in range(3)])
_SECTOR = np.floor((_ANGLES - 30.0) / 60.0).astype(int) % 6


def driven_torque(hand: Hand, spacing_deg: int = 120, read: int = 0) -> float:
    """Mean torque per amp, as a share of the best, that a drive asked to run forward makes with this wiring."""
    levels = [
        ((_ANGLES - rise - hand.late_deg) % 360.0) < 180.0
        for rise in ((30, 150, 270) if hand.spacing_deg == 120 else (30, 90, 150))
    ]
    states = sum(levels[sensor].astype(int) << place for place, sensor in enumerate(hand.halls)) ^ hand.inverted ^ read
    total = 0.0
    for sector, state in enumerate(FORWARD[spacing_deg]):
        plus, minus = (hand.phases[output] for output in DRIVEN[sector])
        here = states == state
        total += float((_EMF[plus] - _EMF[minus])[here].sum()) / 2.0
    return total / _ANGLES.shape[0]


def _moved(wires: Order, to: Order) -> Order:
    return wires[to[0]], wires[to[1]], wires[to[2]]


def _grounds(hand: Hand, spacing_deg: int = 120, forward: bool | None = True) -> Grounds:
    tail, leads = turned_by_hand(hand)
    visits = visits_of(tail, leads, (), TICK_HZ)
    known = Known(turned_forward=forward, spacing_deg=spacing_deg)
    most_v = float(leads.spread.max())
    return Grounds(visits, tail, None, 1.0, 0.0, False, TICK_HZ, True, leads.least_v, most_v, known)


def test_the_96_ways_to_wire_sensors_fall_into_eight_cycles_of_twelve() -> None:
    # Own enumeration: the cube of states has 8 directed hexagons through six states by single bits.
    for spacing, states in FORWARD.items():
        cycles = Counter[tuple[int, ...]]()
        for halls, mask, way in product(ORDERS, range(8), (1, -1)):
            cycle = [int(seen_as(halls, mask)[state]) for state in states][::way]
            start = cycle.index(min(cycle))
            cycles[tuple(cycle[start:] + cycle[:start])] += 1
        assert sorted(cycles.values()) == [12] * 8, spacing


@pytest.mark.parametrize("direction", [1, -1])
@pytest.mark.parametrize("spacing", [120, 60])
def test_every_wiring_is_told_as_it_would_run(spacing: int, direction: int) -> None:
    """6 orders of sensors x 8 inversions x 6 orders of phases: class and direction as driving the motor makes them."""
    for halls, mask, phases in product(ORDERS, range(8), ORDERS):
        hand = Hand(halls, phases, mask, spacing, direction)
        grounds = _grounds(hand)
        judged, odd = order_verdict(grounds), grounds.course.odd
        truth = driven_torque(hand, read=odd or 0) * direction  # in the direction of the hand
        assert judged.now.inverted == odd
        assert judged.fraction == pytest.approx(truth, abs=0.03), hand
        assert judged.verdict.certainty is Certainty.PLAIN
        for mend in judged.mends:
            moved = Hand(
                _moved(halls, mend.to.halls),
                _moved(phases, mend.to.phases),
                sum((mask >> wire & 1) << place for place, wire in enumerate(mend.to.halls)),
                spacing,
                direction,
            )
            after = driven_torque(moved, read=mend.to.inverted) * direction
            assert runs(after) is Runs.WELL, (hand, mend)
            assert after * mend.fraction > 0, (hand, mend)


def test_the_36_wirings_run_in_the_classes_that_the_group_of_twelve_makes_of_them() -> None:
    # Own enumeration: 3 right, 3 right the other way, 6 + 6 weak, 18 that do not turn.
    classes = Counter[str]()
    for halls, phases in product(ORDERS, ORDERS):
        size = order_verdict(_grounds(Hand(halls, phases))).fraction
        assert size is not None
        classes[f"{runs(size).value} {'ahead' if size > 0 else 'back'}" if runs(size) is not Runs.NOT else "not"] += 1
    assert classes == {"well ahead": 3, "well back": 3, "weakly ahead": 6, "weakly back": 6, "not": 18}


def test_a_wiring_that_locks_is_mended_by_one_exchange_of_either_cable_and_a_weak_one_by_none() -> None:
    for halls, phases in product(ORDERS, ORDERS):
        judged = order_verdict(_grounds(Hand(halls, phases)))
        assert judged.fraction is not None
        kinds = sorted(
            (sum(a != b for a, b in zip(m.to.halls, (0, 1, 2), strict=True)), m.to.plugs) for m in judged.mends
        )
        expected = {Runs.WELL: [(0, 0)], Runs.NOT: [(0, 2), (2, 2)], Runs.WEAKLY: [(0, 3), (3, 3)]}
        assert kinds == expected[runs(judged.fraction)], (halls, phases)
        if runs(judged.fraction) is Runs.NOT:  # phase or Hall exchange give opposite directions
            assert judged.mends[0].fraction * judged.mends[1].fraction < 0


def test_fewer_edges_are_told_with_less_certainty() -> None:
    for turns, certainty in ((0.8, Certainty.OPEN), (1.5, Certainty.PROBABLE), (3.0, Certainty.PLAIN)):
        judged = order_verdict(_grounds(Hand(turns=turns)))
        assert judged.verdict.certainty is certainty
        assert (judged.fraction is None) == (certainty is Certainty.OPEN)


def test_without_voltages_the_order_stays_open_and_the_next_test_is_named() -> None:
    grounds = _grounds(Hand((1, 0, 2)))
    blind = replace(grounds, probed=False)
    verdict = order_verdict(blind).verdict
    assert verdict.certainty is Certainty.OPEN
    assert "backward" in verdict.answer
    assert verdict.next_test is not None
    assert "voltage leads" in verdict.next_test.text
    assert verdict.next_test.caution


def test_edges_thirty_degrees_off_are_said_to_fit_two_ways() -> None:
    # Trapezoid 30 degrees off: mean torque 0.875 of the best (own sum over the flat tops and slopes).
    judged = order_verdict(_grounds(Hand(late_deg=29.0)))
    assert judged.fraction == pytest.approx(0.88, abs=0.02)
    assert "timing" in judged.verdict.answer


@pytest.mark.parametrize("late", [-25.0, -18.0, 18.0, 25.0])
def test_timing_that_is_off_does_not_change_what_mends_an_order(late: float) -> None:
    """Torque fractions of 0.2 to 0.4 say weak or locked no more; what mends it does, and driving the motor tells it."""
    for phases, key, plugs in (((0, 2, 1), "commutation_locks", 2), ((1, 2, 0), "commutation_weak", 3)):
        judged = order_verdict(_grounds(Hand(phases=phases, late_deg=late)))
        assert judged.verdict.key == key
        assert {mend.to.plugs for mend in judged.mends} == {plugs}
        for mend in judged.mends:
            after = driven_torque(Hand(mend.to.halls, _moved(phases, mend.to.phases), late_deg=late))
            assert abs(after) > 0.9
            assert after * mend.fraction > 0.0


def test_leads_on_the_wrong_outputs_are_left_open_and_checked_before_a_plug_is_moved() -> None:
    """Voltage leads in another order are other numbers of the phases: the same signals."""
    for halls, phases in product(ORDERS, ORDERS):
        judged = order_verdict(_grounds(Hand(halls, phases)))
        assert SAME_LEADS in judged.verdict.open
        assert judged.verdict.next_test is not None
        if judged.mends[0].to.plugs:
            assert judged.verdict.next_test.text.startswith("Check each voltage lead")
    blind = order_verdict(replace(_grounds(Hand((1, 0, 2))), probed=False)).verdict
    assert SAME_LEADS not in blind.open


def test_no_fraction_is_written_as_less_than_nothing_where_it_rounds_to_nothing() -> None:
    texts, sizes = [], []
    for halls, phases, direction in product(ORDERS, ORDERS, (1, -1)):
        judged = order_verdict(_grounds(Hand(halls, phases, direction=direction)))
        sizes.append(judged.fraction or 0.0)
        texts += [sign.text for sign in judged.verdict.signs]
    assert any(-0.005 < size < 0.0 for size in sizes)  # such there are
    assert not any("-0.00" in text for text in texts)


@pytest.mark.parametrize("halls", [(0, 1, 2), (1, 2, 0)])
def test_what_runs_the_other_way_names_a_pair_of_hall_wires_and_the_leads_that_match_it(
    halls: tuple[int, int, int],
) -> None:
    """After both exchanges the drive runs it the way it was turned; own sum over the angle of the motor."""
    hand = Hand(halls=halls, phases=halls, direction=-1, turns=4.0)
    verdict = order_verdict(_grounds(hand)).verdict
    assert verdict.key == "commutation_reverse"
    said = next(each for each in verdict.open if each.startswith("The drive's setting"))
    placed = Hand(_exchanged(halls, "ABC", said), _exchanged(halls, "UVW", said))
    assert runs(driven_torque(hand)) is runs(driven_torque(placed)) is Runs.WELL
    assert driven_torque(hand) > 0.0 > driven_torque(placed)


def test_a_hand_that_went_the_other_way_is_no_verdict_on_the_wiring_unless_it_was_said_to_be_forward() -> None:
    for direction, forward, key, way in (
        (1, None, "commutation_good", "the way you turned it"),
        (-1, None, "commutation_good", "opposite to the way you turned it"),
        (-1, True, "commutation_reverse", "the other way round"),
        (-1, False, "commutation_good", "opposite to the way you turned it"),
        (1, False, "commutation_reverse", "the way you turned it"),
    ):
        verdict = order_verdict(_grounds(Hand(direction=direction, turns=4.0), forward=forward)).verdict
        assert (verdict.key, verdict.answer) == (key, f"The order is right: it will run {way}.")
        turned_round = [each for each in verdict.open if "setting of direction" in each]
        assert len(turned_round) == int(way != "the way you turned it" or forward is False)
        asks = [each.startswith("Should it run the way you turned it? ") for each in turned_round]
        assert asks == [key == "commutation_good"] * len(turned_round)


def _exchanged(order: Order, letters: str, said: str) -> Order:
    """Wires by place once the two that are named have changed theirs."""
    pair = re.search(f"([{letters}]) and ([{letters}])", said)
    assert pair is not None
    wires, one, other = list(order), letters.index(pair[1]), letters.index(pair[2])
    wires[one], wires[other] = wires[other], wires[one]
    return wires[0], wires[1], wires[2]
