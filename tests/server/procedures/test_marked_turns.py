"""Marked turns of the guided check: what is no one turn, or no two each way, is said and not taken."""

from dataclasses import replace

import pytest

from server.procedures.hall_guide import SHORT, Key
from server.procedures.hall_records import Act, Told
from tests.server.procedures.hands import ANSWERS, at, grounds, looked, says
from tests.server.wiring.turned import Hand


def test_pole_pairs_are_two_counts_that_agree() -> None:
    # 7 pole pairs: 42 edges a turn (six for each). Counted by hand: 6.9 and 7.0 electrical turns, within an edge.
    state = at(Key.PAIRS)
    once = looked(state, grounds(Hand(turns=6.83)), Told(Act.COUNTED))
    assert once.counts == (41,)
    assert "41 sectors: 7 pole pairs if you stopped short by one" in says(once)
    twice = looked(once, grounds(Hand(turns=7.0)), Told(Act.COUNTED))
    assert twice.at is Key.MATCH
    assert "7 pole pairs." in twice.found[Key.PAIRS].text
    said_five = replace(state, answers=replace(ANSWERS, pole_pairs=5), counts=(42,))
    other = looked(said_five, grounds(Hand(turns=7.0)), Told(Act.COUNTED))
    assert "The plate says 5: speeds by it would be 1.4 times." in other.found[Key.PAIRS].text


def test_counts_that_are_no_whole_turns_are_counted_once_more() -> None:
    state = looked(at(Key.PAIRS), grounds(Hand(turns=6.5)), Told(Act.COUNTED))
    assert "no whole electrical turns" in says(state)
    assert looked(state).at is Key.PAIRS


@pytest.mark.parametrize(
    ("plate", "turned", "said"),
    [
        (4, 56, "56 pole pairs, and the plate says 4: was it 14 turns, not one?"),
        (8, 4, "4 pole pairs, and the plate says 8: was it 1/2 of a turn?"),
        (None, 56, "56 pole pairs, more than motors have: was it more than one turn?"),
    ],
)
def test_a_marked_turn_that_was_none_is_counted_again_and_not_believed(
    plate: int | None, turned: int, said: str
) -> None:
    state = at(Key.PAIRS, answers=replace(ANSWERS, pole_pairs=plate))
    many = grounds(Hand(turns=float(turned)))
    once = looked(state, many, Told(Act.COUNTED))
    assert said in says(once)
    assert "count again" in says(once)
    assert looked(once, None, Told(Act.ACCEPT)) == once  # one count is not gone on with
    twice = looked(once, many, Told(Act.COUNTED))
    assert twice.at is Key.PAIRS
    assert not looked(twice, None, Told(Act.ACCEPT)).found[Key.PAIRS].passed  # a person may know better
    right = looked(
        looked(twice, grounds(Hand(turns=7.0)), Told(Act.COUNTED)), grounds(Hand(turns=7.0)), Told(Act.COUNTED)
    )
    assert right.at is Key.MATCH


def test_the_short_way_says_when_too_much_or_too_little_was_turned() -> None:
    state = at(Key.LEVELS, short=True)
    assert "Too many: two turns of 7 pole pairs are 84. | two turns each way" in says(state, grounds(Hand(turns=21.0)))
    few = grounds(Hand(turns=7.0), Hand(turns=7.0, direction=-1))
    assert "two turns forward" in says(state, few, still_s=2.0)
    no_plate = replace(state, answers=replace(ANSWERS, pole_pairs=None))
    back = grounds(Hand(turns=14.0), Hand(turns=18.0, direction=-1))
    assert "Too many: as many back as forward are wanted. | two turns each way" in says(no_plate, back, still_s=2.0)
    accepted = looked(no_plate, back, Told(Act.ACCEPT), still_s=2.0)
    assert not any(accepted.found[key].passed for key in SHORT)
