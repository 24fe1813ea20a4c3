"""Under power: what it does is seen, told in the person's direction, and never called right when it is not."""

from dataclasses import replace

import pytest

from server.procedures import hall_check
from server.procedures.hall_guide import Key
from server.procedures.hall_records import Act, State, Told
from server.wiring.grounds import NOTHING_SAID
from server.wiring.stretch import Stretch
from tests.server.procedures.hands import ANSWERS, at, grounds, looked, says, silent
from tests.server.wiring.test_gathering import rest, stroke
from tests.server.wiring.turned import TICK_HZ, Hand

RUNS = grounds(Hand(turns=4.0), driven_s=1.6)


def test_the_first_power_passes_when_it_turns_the_right_way_below_the_limit() -> None:
    state = at(Key.POWER, forward=1)
    assert "two seconds under power" in says(state, grounds(Hand(turns=4.0)))  # turned by hand
    after = looked(state, RUNS, current_a=0.37, speed_rpm=1188.0)
    assert after.at is Key.STARTS
    assert "It turns the way you called forward: 0.37 A, 1188 r/min" in after.found[Key.POWER].text


def test_the_other_way_round_is_said_and_may_stay_so() -> None:
    state = at(Key.POWER, forward=-1)
    assert "the other way round" in says(state, RUNS, current_a=0.37)
    assert looked(state, RUNS, current_a=0.37).at is Key.POWER
    assert looked(state, RUNS, Told(Act.ACCEPT), current_a=0.37).at is Key.STARTS


def test_turning_at_the_limit_is_no_pass() -> None:
    state = at(Key.POWER, forward=1)
    assert "weak, the wrong order, or something holds it" in says(state, RUNS, current_a=1.0)
    assert looked(state, RUNS, current_a=1.0).at is Key.POWER


@pytest.mark.parametrize(
    ("rated_a", "current_a", "at_limit", "told"),
    [
        (4.0, 0.38, True, "the limit at 0.4 A."),
        (4.0, 0.30, False, "the limit at 0.4 A."),
        (60.0, 0.80, False, "the limit at 1 A."),
        (60.0, 0.95, True, "the limit at 1 A."),
        (None, 0.38, False, "the limit at 1 A at most: the rated current is not known."),
    ],
)
def test_the_limit_is_a_tenth_of_the_rated_current_and_never_above_one_ampere(
    rated_a: float | None, current_a: float, at_limit: bool, told: str
) -> None:
    state = at(Key.POWER, forward=1, answers=replace(ANSWERS, rated_a=rated_a))
    assert told in hall_check.guide(state, probed=True).connected
    assert told in hall_check.guide(replace(state, at=Key.MATCH), probed=False).connected
    after = looked(state, RUNS, current_a=current_a)
    assert (after.at is Key.POWER) is at_limit
    assert ("at the limit of" in says(state, RUNS, current_a=current_a)) is at_limit
    if not at_limit:
        unknown = "The limit was taken as 1 A at most: the rated current is not known."
        assert (unknown in after.found[Key.POWER].text) is (rated_a is None)


def test_one_that_stands_is_sent_off_not_to_other_plugs() -> None:
    stands = grounds(Hand(turns=0.1), driven_s=1.6)
    said = says(at(Key.POWER, forward=1), stands, current_a=1.0)
    assert "it stands: wrong order, jammed, or on a dead spot. Off." in said
    assert "xchange" not in said
    trembles = replace(silent([5, 1, 5]), driven_s=0.7)
    assert "a second more" in says(at(Key.POWER), trembles, current_a=1.0)


def test_one_that_stood_and_was_then_turned_by_hand_has_not_run() -> None:
    stretch = Stretch(TICK_HZ, True, 0.02)
    for fresh in (*(replace(each, driven=True) for each in rest(0, 8)), stroke(Hand(turns=4.0), 1_600_000)):
        stretch.take(fresh)
    state = at(Key.POWER, forward=1)
    by_hand = stretch.grounds(NOTHING_SAID)
    assert by_hand.course.turned > 20
    assert "it stands" in says(state, by_hand, current_a=0.3)
    assert looked(state, by_hand, current_a=0.3).at is Key.POWER
    stretch.take(stroke(Hand(turns=4.0), 4_000_000, driven=True))
    runs = looked(state, stretch.grounds(NOTHING_SAID), current_a=0.3)
    assert runs.at is Key.STARTS
    assert " 24 sectors in order" in runs.found[Key.POWER].text  # four electrical turns: of the run alone


def test_six_starts_are_gathered_from_where_the_shaft_stood() -> None:
    state = at(Key.STARTS)
    for sector in range(1, 7):
        assert state.at is Key.STARTS
        state = looked(state, None, sector=sector, run_state="resting")
        state = looked(state, None, run_state="running", direction=1)
    assert state.at is Key.LOAD
    assert state.found[Key.STARTS].text == "It started from all six sectors."


def test_a_place_from_which_it_does_not_start_is_named_until_it_does() -> None:
    state = looked(at(Key.STARTS), None, sector=4, run_state="resting")
    state = looked(state, None, run_state="stalled")
    assert "It does not start in sector 4: input A or B" in says(state)
    state = looked(state, None, sector=4, run_state="resting")
    state = looked(state, None, run_state="starting", direction=1)
    assert "Started from 1 of 6" in says(state)


def test_a_press_is_no_window() -> None:
    runs = {"run_state": "running", "direction": 1, "speed_rpm": 1000.0, "current_a": 1.0}
    state = at(Key.LOAD)
    for _ in range(12):
        state = looked(state, None, Told(Act.ACCEPT), **runs)
    assert state.ran == {}
    starts = looked(at(Key.STARTS), None, Told(Act.ACCEPT), sector=4, run_state="resting")
    assert starts.rest_sector == 0


def test_only_a_row_of_windows_at_one_speed_is_steady() -> None:
    def ran(state: State, *speeds_rpm: float) -> State:
        for speed_rpm in speeds_rpm:
            state = looked(state, None, run_state="running", direction=1, speed_rpm=speed_rpm, current_a=1.0)
        return state

    rising = ran(at(Key.LOAD), *(100.0 * k for k in range(1, 21)))
    assert rising.ran[1].windows == 1
    steady = ran(rising, *[2500.0, 2540.0] * 5)
    assert steady.ran[1].windows == 10
    assert steady.ran[1].mean_rpm == 2520.0
    assert ran(steady, 2000.0, 900.0).ran == steady.ran  # slowing down, to be turned round


def test_both_ways_must_agree_within_five_per_cent() -> None:
    state = at(Key.LOAD)
    for _ in range(10):
        state = looked(state, None, run_state="running", direction=1, speed_rpm=1000.0, current_a=1.0)
    assert "two steady seconds backward" in says(state)
    uneven = state
    for _ in range(10):
        uneven = looked(uneven, None, run_state="running", direction=-1, speed_rpm=900.0, current_a=1.2)
    assert "They differ by 10.0 % in speed" in says(uneven)
    assert not uneven.done
    for _ in range(10):
        state = looked(state, None, run_state="running", direction=-1, speed_rpm=980.0, current_a=1.0)
    assert state.done
    assert state.found[Key.LOAD].passed
