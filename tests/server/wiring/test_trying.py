"""Trying under power finds the order that fits in three changes at most, whatever the wiring was."""

from dataclasses import replace
from itertools import product

import pytest

from server.verdict import Certainty
from server.wiring.arrangement import ORDERS, Order
from server.wiring.grounds import Known
from server.wiring.names import Names
from server.wiring.order import order_verdict
from server.wiring.torque import Runs, runs
from server.wiring.trying import Showed, Try, trying
from tests.server.procedures.hands import grounds as turned
from tests.server.wiring.test_order import driven_torque
from tests.server.wiring.turned import Hand


def _shows(halls: Order, inverted: int, first: Order, tried: Order) -> Showed:
    """What driving the motor shows, by the sum over its angle; a push tells what stands."""
    leads = first[tried[0]], first[tried[1]], first[tried[2]]
    torque = driven_torque(Hand(halls, leads, inverted))
    if runs(torque) is Runs.WELL:
        return Showed.WELL if torque > 0 else Showed.REVERSE
    return Showed.WEAK if runs(torque) is Runs.WEAKLY else Showed.LOCKS


def test_every_wiring_is_found_in_three_changes_and_one_and_a_half_in_the_mean() -> None:
    # Own enumeration: of six orders one fits; what locks is of the other parity, what is weak of the same.
    changes = []
    for halls, inverted, first in product(ORDERS, (0, 7), ORDERS):
        tries: tuple[Try, ...] = ()
        while (then := trying(tries)).next_order is not None:
            tries = (*tries, Try(then.next_order, _shows(halls, inverted, first, then.next_order)))
            assert len(tries) <= 4, (halls, first)
        assert then.verdict.certainty is Certainty.PLAIN
        assert tries[-1].showed in (Showed.WELL, Showed.REVERSE)
        changes.append(len(tries) - 1)
    assert max(changes) == 3
    assert sum(changes) / len(changes) == pytest.approx(1.5)


def test_standing_alone_rules_out_that_order_only_and_asks_first_whether_it_turns_freely() -> None:
    then = trying((Try((0, 1, 2), Showed.STANDS),))
    assert len(then.left) == 5
    assert then.verdict.next_test is not None
    text = then.verdict.next_test.text
    assert text.index("turn freely") < text.index("push test") < text.index("Exchange")
    assert "never a hand" in then.verdict.next_test.caution


def test_what_is_weak_is_moved_one_place_all_three_and_named_as_the_person_does() -> None:
    names = Names(phases=("yellow", "green", "blue"))
    then = trying((Try((0, 1, 2), Showed.WEAK),), names)
    assert then.verdict.next_test is not None
    assert then.verdict.next_test.text.startswith("Move all three phase plugs one place")
    again = trying((Try((0, 1, 2), Showed.WEAK), Try((1, 2, 0), Showed.WEAK)), names)
    assert again.left == ((2, 0, 1),)
    assert again.verdict.next_test is not None
    assert "U (green)" in again.verdict.next_test.text  # it sits on U after the first move


def test_notes_that_no_wiring_shows_are_called_so() -> None:
    then = trying((Try((0, 1, 2), Showed.WEAK), Try((0, 2, 1), Showed.WEAK)))
    assert then.left == ()
    assert then.next_order is None
    assert then.verdict.certainty is Certainty.OPEN


@pytest.mark.parametrize(
    ("rated_a", "limit"), [(4.0, "0.4 A"), (60.0, "1 A"), (None, "1 A at most: the rated current")]
)
def test_the_limit_of_a_try_is_a_tenth_of_the_rated_current(rated_a: float | None, limit: str) -> None:
    """And 1 A at most, 12 W from 12 V: common practice, no published source."""
    then = trying((Try((0, 1, 2), Showed.STANDS),), rated_a=rated_a)
    assert then.verdict.next_test is not None
    assert then.verdict.next_test.caution.count(f"12 V, limit {limit}") == 2  # of the push and of the try
    grounds = turned(Hand(turns=4.0))
    first = order_verdict(replace(grounds, known=Known(rated_a=rated_a))).verdict.next_test
    assert first is not None
    assert f"12 V, limit {limit}" in first.text
