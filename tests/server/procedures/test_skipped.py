"""What a step saw counts although it is skipped, and a press means the step that it was meant for."""

from server.procedures.hall_guide import Key
from server.procedures.hall_records import Act, Told
from server.procedures.hall_shown import check_record
from tests.server.procedures.hands import at, grounds, looked, seen
from tests.server.wiring.turned import Hand

FORWARD, LOCKED = Hand(turns=4.0), Hand(halls=(0, 2, 1), turns=4.0)


def test_a_step_that_is_skipped_does_not_pass_by_wires_that_were_seen_to_be_wrong() -> None:
    few = grounds(Hand(halls=(0, 2, 1), turns=1.5))  # probable: the step does not pass by itself
    state = looked(at(Key.MATCH), few, Told(Act.SKIP))
    assert (state.at, state.found[Key.MATCH].passed) == (Key.TIMING, False)
    assert looked(state, None, Told(Act.SKIP)).at is Key.MOVE
    one_way = looked(at(Key.LEVELS, short=True), grounds(LOCKED), Told(Act.SKIP))  # the way back is missing
    assert one_way.at is Key.MOVE
    right = looked(at(Key.LEVELS, short=True), grounds(FORWARD), Told(Act.SKIP))
    assert right.at is Key.POWER


def test_a_press_for_a_step_that_has_just_passed_by_itself_does_nothing_to_the_next() -> None:
    state = at(Key.ORDER)
    for act in Act:
        assert looked(state, None, Told(act, at=Key.LEVELS)) == state
    assert looked(state, None, Told(Act.SKIP, at=Key.ORDER)).at is Key.PAIRS


def test_a_match_that_would_not_run_has_no_tick_though_it_is_behind() -> None:
    for hand, odd in ((LOCKED, ["match"]), (FORWARD, [])):
        state = looked(at(Key.MATCH), grounds(hand))
        assert state.found[Key.MATCH].passed
        assert [each["key"] for each in check_record(state, seen(state))["steps"] if each["odd"]] == odd
