"""Trying finds the right order of the leads, whatever wiring it is, in as few changes as blind trying can need."""

import pytest

from server.wiring.arrangement import AS_IT_IS, AS_IT_STANDS, ORDERS, Order
from server.wiring.torque import Runs, fraction, runs
from server.wiring.tries import Showed, Try, trying
from tests.server.wiring.test_order import _grounds
from tests.server.wiring.turned import Hand


def shown_by(hand: Hand) -> dict[Order, Showed]:
    """What each order of the leads does by the torque of the motor, worked out from its voltages."""
    found = _grounds(hand).fractions()
    words = {Runs.WELL: Showed.WELL, Runs.WEAKLY: Showed.WEAK, Runs.NOT: Showed.STANDS}
    return {order: words[runs(fraction(found, AS_IT_STANDS._replace(phases=order)))] for order in ORDERS}


@pytest.mark.parametrize("halls", ORDERS)
def test_at_most_three_changes_find_it_and_one_and_a_half_in_the_mean(halls: Order) -> None:
    # Own enumeration: with the Hall wires left alone blind trying needs 1.5 changes in the mean and never more than 3.
    changes = []
    for phases in ORDERS:
        truth, tries = shown_by(Hand(halls, phases)), list[Try]()
        while (order := trying(tuple(tries)).next_order) is not None:
            tries.append(Try(order, truth[order]))
        assert trying(tuple(tries)).found == next(order for order, showed in truth.items() if showed is Showed.WELL)
        changes.append(len(tries) - 1)
    assert max(changes) <= 3
    assert sum(changes) == pytest.approx(9)


def test_the_first_try_is_the_wiring_as_it_is_and_one_that_runs_ends_it() -> None:
    assert trying(()).next_order == AS_IT_IS
    assert trying((Try(AS_IT_IS, Showed.WELL),)).next_order is None


def test_tries_that_no_wiring_makes_are_said_to_contradict_each_other() -> None:
    # Both of the other two rotations weak too: then none is left that would run.
    all_weak = tuple(Try(order, Showed.WEAK) for order in ((0, 1, 2), (1, 2, 0), (2, 0, 1)))
    assert trying(all_weak).contradicted
