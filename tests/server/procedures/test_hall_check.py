"""The guided check goes on when the samples show it, says what is missing when not, and never opens a step unwarned."""

import re
from dataclasses import replace

import pytest

from server.procedures import hall_check
from server.procedures.hall_guide import GUIDES, SHORT, STEPS, Key
from server.procedures.hall_records import Act, Answers, Ran, State, Told
from server.procedures.hall_shown import check_record
from server.wiring.grounds import Grounds
from server.wiring.names import Names
from server.wiring.trying import Showed
from tests.server.procedures.hands import AGREE, ANSWERS, at, grounds, looked, says, seen, silent
from tests.server.wiring.turned import Hand

FORWARD = Hand(turns=4.0)
BACKWARD = Hand(turns=4.0, direction=-1)
LOCKED = Hand(halls=(0, 2, 1), turns=4.0)
WEAK = Hand(phases=(1, 2, 0), turns=4.0)


def test_names_of_all_six_wires_open_the_way_and_two_alike_do_not() -> None:
    state = hall_check.begun()
    assert looked(state).at is Key.PLATE
    alike = Answers(Names(("blue", "Blue", "white"), ("red", "black", "yellow")))
    assert "same name" in says(replace(state, answers=alike))
    state = looked(state, None, Told(Act.ANSWER, ANSWERS))
    assert state.at is Key.SUPPLY
    assert not state.agreed
    assert state.found[Key.PLATE].text == "Hall wires blue, green, white; leads red, black, yellow."


@pytest.mark.parametrize("key", [key for key in STEPS if GUIDES[key].cautions])
def test_no_step_with_a_caution_opens_before_it_was_seen(key: Key) -> None:
    state = at(key, agreed=False)
    rich = grounds(FORWARD, BACKWARD, driven_s=2.0)
    assert looked(state, rich, Told(Act.ACCEPT)).at is key
    assert looked(state, rich).found == {}
    assert check_record(state, seen(state, rich))["says"] == ""
    opened = looked(state, rich, AGREE)
    assert opened.agreed
    assert opened.opening == state.opening + 1  # what was turned before says nothing of it
    assert opened.found == {}


def test_a_caution_that_was_seen_is_not_asked_for_again_unless_something_is_powered() -> None:
    state = looked(at(Key.LEVELS, agreed=False), None, AGREE)
    state = looked(state, grounds(FORWARD))
    assert state.at is Key.ORDER
    assert state.agreed
    powered = looked(at(Key.POWER, agreed=False), None, AGREE)
    assert not looked(powered, None, Told(Act.REPEAT)).agreed


@pytest.mark.parametrize(
    ("volts", "milliamps", "passes", "said"),
    [
        (5.02, 12.0, True, "5.02 V, 12 mA"),
        (-0.002, -0.3, False, "0.00 V, 0 mA, not 5 V"),  # an offset of the channels is no supply the wrong way round
        (5.0, 0.4, False, "no current. A wire or a connector is open"),
        (4.1, 12.0, False, "not 5 V"),
        (2.0, 50.0, False, "Off now"),
        (5.0, 38.0, False, "more than three sensors take"),
    ],
)
def test_the_supply_of_the_sensors(volts: float, milliamps: float, passes: bool, said: str) -> None:
    answers = replace(ANSWERS, supply_v=volts, supply_a=milliamps / 1000.0)
    state = at(Key.SUPPLY)
    assert said in says(replace(state, answers=answers, answered=True))
    after = looked(state, None, Told(Act.ANSWER, answers))
    assert (after.at is Key.LEVELS) is passes


def test_steps_are_counted_from_one_and_texts_name_them_by_what_they_are() -> None:
    shown = check_record(hall_check.begun(), seen(hall_check.begun()))
    assert shown["step"] == 1
    assert [each["number"] for each in shown["steps"]] == list(range(1, 12))
    steps = (GUIDES[key] for key in STEPS)
    texts = [text for its in steps for text in (its.title, its.connected, its.asks, *its.cautions)]
    odd = at(Key.LOAD, ran={1: Ran(10, 10_000.0, 10.0), -1: Ran(10, 20_000.0, 10.0)})
    assert not [text for text in (*texts, says(odd)) if re.search(r"[Ss]tep \d", text)]


def test_a_supply_that_the_board_measures_needs_no_answer() -> None:
    assert looked(at(Key.SUPPLY), None, sensor_v=5.0, sensor_a=0.011).at is Key.LEVELS


def test_each_input_must_have_been_high_and_low() -> None:
    state = at(Key.LEVELS)
    assert "turn the shaft" in says(state)
    stuck = silent([1, 5, 4, 0, 1, 5, 4, 0])
    assert "B (green) has not changed in 8 changes of A and C." in says(state, stuck)
    assert looked(state, stuck).at is Key.LEVELS
    assert looked(state, grounds(FORWARD)).at is Key.ORDER


def test_the_order_of_states_needs_two_electrical_turns_one_way() -> None:
    state = at(Key.ORDER)
    assert "two electrical turns" in says(state, grounds(Hand(turns=1.6)))
    passed = looked(state, grounds(BACKWARD))
    assert passed.at is Key.PAIRS
    assert passed.forward == -1  # whatever way the states come: that is forward now


def test_a_signal_that_reads_the_opposite_is_named_and_may_be_gone_on_with() -> None:
    state, odd = at(Key.ORDER), grounds(Hand(inverted=2, turns=4.0))
    assert "B (green) reads the opposite of A and C: right on a drive set to sensors 60" in says(state, odd)
    for_60 = replace(odd, known=replace(odd.known, spacing_deg=60))
    assert looked(state, for_60).at is Key.PAIRS  # the drive has the table of the set
    assert looked(state, odd).at is Key.ORDER
    after = looked(state, odd, Told(Act.ACCEPT))
    assert after.at is Key.PAIRS
    assert not after.found[Key.ORDER].passed


def test_a_match_is_judged_and_what_is_right_needs_no_plug_moved() -> None:
    state = at(Key.MATCH)
    assert "turn the shaft" in says(state)
    assert "Can't tell yet" in says(state, grounds(Hand(turns=0.8)))
    right = looked(looked(state, grounds(FORWARD)), None, Told(Act.SKIP))
    assert right.at is Key.POWER  # nothing to move
    assert "It should turn the way you turned it." in str(check_record(right, seen(right)))


def test_a_wrong_wiring_leads_to_the_plugs_and_is_mended_when_it_turns_again() -> None:
    state = looked(looked(at(Key.MATCH), grounds(LOCKED)), None, Told(Act.SKIP))
    assert state.at is Key.MOVE
    shown = check_record(looked(state, None, AGREE), seen(state))
    assert [each["acts"] for each in shown["mends"]] == [
        ["Exchange the phase plugs U (red) and W (yellow)."],
        ["Exchange the Hall wires B (green) and C (white)."],
    ]
    state = looked(looked(state, None, AGREE), None, Told(Act.MEND, choice=1))
    assert looked(state, grounds(FORWARD)).at is Key.MOVE  # not before a person says that they were moved
    state = looked(state, None, Told(Act.MOVED))
    assert state.answers.names.halls == ("blue", "white", "green")  # names go with their wires
    assert "It would not turn" in says(state, grounds(LOCKED))
    after = looked(state, grounds(FORWARD))
    assert after.at is Key.POWER
    assert "it will run the way you turn it" in after.found[Key.MOVE].text


@pytest.mark.parametrize("acts", [(Act.REPEAT,), (Act.BACK, Act.SKIP)])
def test_plugs_that_were_moved_stay_moved_until_the_match_is_judged_anew(acts: tuple[Act, ...]) -> None:
    state = looked(looked(at(Key.MATCH), grounds(LOCKED)), None, Told(Act.SKIP))
    state = looked(looked(state, None, AGREE), None, Told(Act.MOVED))
    for act in acts:
        state = looked(state, None, Told(act))
    state = looked(looked(state, None, AGREE), None, Told(Act.MOVED))  # a second press moves nothing
    assert state.at is Key.MOVE
    assert state.moved
    assert state.answers.names.phases == ("yellow", "black", "red")
    assert looked(state, grounds(FORWARD)).at is Key.POWER
    for act in (Act.BACK, Act.BACK):
        state = looked(state, None, Told(act))
    state = looked(looked(state, None, AGREE), grounds(LOCKED))
    assert state.at is Key.TIMING
    assert not state.moved  # what is to be moved now is another matter


def test_the_other_way_to_mend_it_moves_the_other_cable() -> None:
    state = looked(looked(at(Key.MATCH), grounds(LOCKED)), None, Told(Act.SKIP))
    state = looked(state, None, AGREE)
    state = looked(state, None, Told(Act.MOVED))
    assert state.answers.names.phases == ("yellow", "black", "red")
    assert state.answers.names.halls == ("blue", "green", "white")


def test_a_weak_wiring_asks_for_all_three_to_be_moved() -> None:
    state = looked(at(Key.MATCH), grounds(WEAK))
    assert "One exchange won't mend it" in state.found[Key.MATCH].text


def test_without_voltages_the_leads_are_tried_and_each_try_is_warned_of() -> None:
    state = at(Key.MATCH, agreed=False)
    assert "caution" not in says(state, probed=False)
    for showed in (Showed.STANDS, Showed.WEAK):
        assert not state.agreed
        state = looked(state, None, AGREE, probed=False)
        state = looked(state, None, Told(Act.TRIED, showed=showed), probed=False)
        assert state.at is Key.MATCH
    state = looked(state, None, AGREE, probed=False)
    shown = check_record(state, seen(state, probed=False))
    assert [row["showed"] for row in shown["tries"]] == ["stands", "weak", ""]
    assert shown["form"] == "try"
    assert "never a hand" in shown["push"]
    state = looked(state, None, Told(Act.TRIED, showed=Showed.WELL), probed=False)
    assert state.at is Key.TIMING
    drawn = check_record(state, seen(state, probed=False))["tries"][-1]["order"]
    assert drawn == "V (black) on U, U (red) on V, W (yellow) on W"
    assert state.answers.names.phases == ("black", "red", "yellow")  # and there they are called so
    assert state.answers.names.halls == ANSWERS.names.halls


def test_leads_that_were_moved_in_a_try_stay_there_when_the_tries_begin_anew() -> None:
    state = at(Key.MATCH)
    stands = Told(Act.TRIED, showed=Showed.STANDS)
    for _ in range(2):
        state = looked(looked(state, None, AGREE, probed=False), None, stands, probed=False)
    assert state.answers.names.phases == ("red", "yellow", "black")  # the second try
    assert "V (black) on U, W (yellow) on V, U (red) on W" in says(state, probed=False)
    state = looked(state, None, Told(Act.REPEAT), probed=False)
    assert "U (red) on U, V (yellow) on V, W (black) on W" in says(state, probed=False)


def turned_both_ways(late_deg: float, lag_deg: float) -> Grounds:
    """The place of a sensor is late one way and early the other, hysteresis late both ways."""
    ahead = Hand(turns=8.5, late_deg=late_deg + lag_deg)
    return grounds(ahead, Hand(turns=8.0, late_deg=late_deg - lag_deg, direction=-1))


def test_timing_wants_both_ways_and_separates_placement_from_lag() -> None:
    state = at(Key.TIMING, forward=1)
    one_way = grounds(Hand(turns=8.0, late_deg=6.0))
    assert 5.5 < float(re.findall(r"come ([0-9.]+) degrees late when turning forward", says(state, one_way))[0]) < 6.5
    assert "40 edges each way" in says(state, one_way)
    assert not looked(state, one_way, Told(Act.ACCEPT)).found[Key.TIMING].passed
    after = looked(state, turned_both_ways(6.0, 2.0))
    text = after.found[Key.TIMING].text
    assert placed_and_lag(text) == pytest.approx((6.0, 2.0), abs=0.5)
    assert after.at is Key.POWER
    assert "backward" not in text
    other = looked(replace(state, forward=-1), turned_both_ways(6.0, 2.0))
    assert "Late and early are meant turning backward." in other.found[Key.TIMING].text


@pytest.mark.parametrize(("late_deg", "lag_deg"), [(28.0, 4.0), (14.0, 1.0)])
def test_a_timing_that_no_drive_can_use_is_no_pass(late_deg: float, lag_deg: float) -> None:
    state, off = at(Key.TIMING, forward=1), turned_both_ways(late_deg, lag_deg)
    assert placed_and_lag(says(state, off)) == pytest.approx((late_deg, lag_deg), abs=0.7)
    assert "the drive's timing, or the sensors' place" in says(state, off)
    assert hall_check.judgement(state, seen(state, off)).odd
    assert looked(state, off).at is Key.TIMING
    after = looked(state, off, Told(Act.ACCEPT))
    assert after.at is Key.POWER
    assert not after.found[Key.TIMING].passed


def placed_and_lag(text: str) -> tuple[float, float]:
    """Degrees as they are told."""
    placed, lag = re.findall(r"come ([0-9.]+) degrees late by the place.*late both ways by ([-+0-9.]+)", text)[0]
    return float(placed), float(lag)


def test_the_short_way_answers_five_steps_and_hides_nothing_that_is_missing() -> None:
    state = looked(at(Key.SUPPLY, agreed=False), None, Told(Act.SHORT))
    assert state.short
    state = looked(state, None, AGREE)
    assert "0 back" in says(state, grounds(Hand(turns=14.0)))
    both = grounds(Hand(turns=14.0), Hand(turns=14.0, direction=-1))
    assert "at rest" in says(state, both, still_s=0.2)
    after = looked(state, both, still_s=2.0)
    assert set(SHORT) <= set(after.found)
    assert "7 pole pairs" in after.found[Key.PAIRS].text
    assert all(after.found[key].passed for key in SHORT)
    assert after.at is Key.POWER
    no_plate = replace(state, answers=replace(ANSWERS, pole_pairs=None))
    few = looked(no_plate, grounds(Hand(turns=5.0), Hand(turns=5.0, direction=-1)), still_s=2.0)
    assert not few.found[Key.TIMING].passed
    assert "Missing: 40 edges each way" in few.found[Key.TIMING].text


def test_names_that_were_typed_before_the_short_way_was_taken_are_kept() -> None:
    state = looked(hall_check.begun(), None, Told(Act.SHORT, ANSWERS))
    assert state.short
    assert state.answers == ANSWERS
    assert looked(state, None, Told(Act.SHORT)).answers == ANSWERS


def test_back_leads_out_of_the_short_way() -> None:
    state = looked(looked(at(Key.SUPPLY, agreed=False), None, Told(Act.SHORT)), None, Told(Act.BACK))
    assert (state.at, state.short) == (Key.SUPPLY, False)
    assert looked(state, None, Told(Act.SKIP)).at is Key.LEVELS


def test_the_short_way_is_not_open_where_the_leads_are_not_measured() -> None:
    state = at(Key.LEVELS)
    assert looked(state, None, Told(Act.SHORT), probed=False) == state
    assert not check_record(state, seen(state, probed=False))["can_short"]


@pytest.mark.parametrize("key", STEPS)
def test_every_step_can_be_repeated_skipped_and_gone_back_from(key: Key) -> None:
    state = at(key, judged=None)
    assert looked(state, None, Told(Act.REPEAT)).at is key
    skipped = looked(state, None, Told(Act.SKIP))
    assert not skipped.found[key].passed
    assert skipped.done is (key is STEPS[-1])
    back = looked(state, None, Told(Act.BACK))
    before = STEPS[max(STEPS.index(key) - (2 if key is Key.POWER else 1), 0)]  # nothing was found to be moved
    assert back.at is before


def test_an_act_that_does_not_fit_the_step_changes_nothing() -> None:
    state = at(Key.LEVELS)
    for act in (Act.COUNTED, Act.TRIED, Act.MOVED, Act.MEND, Act.ACCEPT):
        assert looked(state, None, Told(act, showed=Showed.WELL)) == state
    assert isinstance(looked(State(done=True), None, Told(Act.SKIP)), State)
