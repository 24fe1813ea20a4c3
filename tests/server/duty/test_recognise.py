"""Starts, stops and cycles are those of the story, and what a gap may hide is said and never counted silently."""

import numpy as np
import pytest

from firmware_protocol import Message
from server.config import RigSettings
from server.duty import Begun, Bound
from server.pipeline import Pipeline
from tests.server.duty.tiny_cycles import (
    COASTS_S,
    CYCLE,
    OFF_S,
    ON_S,
    REST,
    T95_S,
    cycles_of,
    messages_of,
    told,
    without,
)
from tests.server.pipelines import replace_boot, wire
from tests.server.tiny_board import TinyBoard


def test_each_start_is_one_cycle_and_the_last_is_still_open() -> None:
    cycles = told((REST, *CYCLE * 3))
    assert [(each.number, each.begun, each.ended) for each in cycles] == [
        (1, Begun.SEEN, True),
        (2, Begun.SEEN, True),
        (3, Begun.SEEN, False),
    ]
    assert [each.start_s for each in cycles] == pytest.approx([1.0, 5.0, 9.0], abs=0.011)
    assert not any(each.doubts or each.hidden_s for each in cycles)


def test_the_figures_of_a_cycle_are_those_of_the_story_within_their_intervals() -> None:
    figures = told((REST, *CYCLE * 2))[0].figures
    truth = {
        "starting_time_s": T95_S,
        "inrush_peak_a": 1.5 * 2**0.5,
        "inrush_half_cycle_a": 1.5,
        "steady_speed_rpm": 1400.0,
        "coasting_time_s": COASTS_S,
        "on_time_s": ON_S,
        "off_time_s": OFF_S,
    }
    for key, value in truth.items():
        figure = figures[key]
        assert figure.value == pytest.approx(value, rel=0.005, abs=figure.half or 0.0), key
        assert not figure.reason or figure.value is not None
        assert figure.bound is Bound.NONE
    assert figures["steady_current_a"].value == pytest.approx(0.5, rel=0.002)
    joules = 230.0 * (0.5 * 1.5 + 1.5 * 0.5) * 0.9553364891256060  # U I t cos 0.3, of the start and of the run
    assert figures["energy_wh"].value == pytest.approx(joules / 3600.0, rel=0.005)
    heat = 1.5**2 * T95_S / (1.5**2 * 0.5 + 0.5**2 * 1.5)  # A²s of the start and of all
    assert figures["start_heat"].value == pytest.approx(100.0 * heat, rel=0.03)


def test_an_open_cycle_says_what_is_not_known_of_it_yet() -> None:
    running = told((REST, *CYCLE[:2]))[0]
    assert (running.figures["on_time_s"].bound, running.figures["off_time_s"].value) == (Bound.LEAST, None)
    resting = told((REST, *CYCLE))[0]
    assert resting.figures["on_time_s"].bound is Bound.NONE
    assert resting.figures["off_time_s"].bound is Bound.LEAST


def test_a_motor_that_ran_when_it_was_first_looked_at_is_no_start() -> None:
    before, after = told(((0.1, 230.0, 0.5, 1400.0), *CYCLE[1:], *CYCLE))
    assert (before.begun, before.is_start, after.is_start) == (Begun.BEFORE, False, True)
    assert before.figures["starting_time_s"].value is None
    assert before.figures["on_time_s"].bound is Bound.LEAST
    assert "that start is not counted" in before.doubts[0]


def test_a_motor_that_is_started_while_it_coasts_is_known_to_have_coasted_for_no_time() -> None:
    quick = (*CYCLE[:2], (0.4, 0.0, 0.0, 1000.0))
    first, second = told((REST, *quick, (0.3, 230.0, 1.5, 1400.0), *CYCLE[1:]))
    assert first.figures["coasting_time_s"].value is None
    assert first.figures["coasting_time_s"].reason == "it was started again before it was known to stand"
    assert second.is_start


def test_a_stall_and_a_release_are_one_cycle() -> None:
    stall = ((0.1, 230.0, 1.5, 0.0), (1.3, 230.0, 1.5, 0.0), (0.4, 230.0, 1.2, 1400.0), (1.2, 230.0, 0.5, 1400.0))
    cycles = told((REST, *CYCLE[:2], *stall, *CYCLE[2:]))
    assert [(each.is_start, each.stalls, each.reversals) for each in cycles] == [(True, 1, 0)]
    assert cycles[0].figures["on_time_s"].value == pytest.approx(2.0 + 3.0, abs=0.02)
    # A stall is told late, and dated back into windows in which it seemed to run: these are not of the steady current.
    assert cycles[0].figures["steady_current_a"].value == pytest.approx(0.5, rel=0.01)
    assert cycles[0].figures["steady_speed_rpm"].value == pytest.approx(1400.0, rel=0.01)
    # Energy is summed from its start, although its sum began anew when it came free.
    ampere_seconds = 1.5 * 0.5 + 0.5 * 1.5 + 1.5 * 1.4 + 1.2 * 0.4 + 0.5 * 1.2
    assert cycles[0].figures["energy_wh"].value == pytest.approx(230 * ampere_seconds * 0.95534 / 3600, rel=0.03)


def test_a_held_start_that_is_switched_off_has_no_starting_time() -> None:
    (cycle,) = told((REST, (2.5, 230.0, 1.5, 0.0), REST, REST))
    assert (cycle.stalls, cycle.figures["starting_time_s"].value) == (1, None)
    assert cycle.figures["starting_time_s"].reason == "it was not up to speed before its current ended"


@pytest.mark.parametrize(
    ("from_s", "to_s", "count", "words"),
    [
        (2.0, 2.4, 2, "while it was on are missing"),
        (4.2, 4.6, 2, "while it was off are missing"),
        (0.2, 0.6, 2, "before its start are missing"),
    ],
)
def test_what_a_gap_may_hide_stands_in_the_cycle_in_which_it_lies(
    from_s: float, to_s: float, count: int, words: str
) -> None:
    cycles = cycles_of(without(messages_of((REST, *CYCLE * 2)), from_s, to_s))
    assert sum(each.is_start for each in cycles) == count
    doubtful = [each for each in cycles if each.doubts]
    assert doubtful == cycles[:1]
    assert words in doubtful[0].doubts[0]
    assert doubtful[0].hidden_s == pytest.approx(to_s - from_s, abs=0.011)


def test_a_start_that_lies_in_a_gap_is_counted_and_said_to_be_unseen() -> None:
    cycles = cycles_of(without(messages_of((REST, *CYCLE * 3)), 4.5, 6.2))
    assert [each.begun for each in cycles] == [Begun.SEEN, Begun.UNSEEN, Begun.SEEN]
    assert cycles[1].doubts[0] == "it was off, and then on: the start between was not seen"
    assert cycles[1].figures["inrush_peak_a"].value is None
    assert cycles[1].figures["on_time_s"].bound is Bound.LEAST


def test_a_gap_that_is_too_short_to_hide_a_start_makes_only_figures_doubtful() -> None:
    (cycle,) = cycles_of(without(messages_of((REST, *CYCLE)), 1.1, 1.13))
    assert (cycle.doubts, cycle.hidden_s) == ((), 0.0)
    assert cycle.figures["inrush_peak_a"].bound is Bound.LEAST
    assert cycle.figures["starting_time_s"].reason == "samples of the start are missing"
    assert cycle.figures["energy_wh"].bound is Bound.LEAST


def test_a_stop_in_a_gap_makes_the_on_time_at_most_that() -> None:
    (cycle,) = cycles_of(without(messages_of((REST, *CYCLE)), 2.5, 3.5))
    assert cycle.figures["on_time_s"].bound is Bound.MOST
    assert cycle.figures["on_time_s"].value == pytest.approx(2.5, abs=0.05)


def test_without_a_speed_sensor_starts_and_stops_are_told_by_the_current() -> None:
    rest = (11.0, 0.0, 0.0, 0.0)
    blind = (rest, *CYCLE[:2], rest, *CYCLE[:2], rest)
    cycles = told(blind, TinyBoard(inputs=()))
    assert [each.is_start for each in cycles] == [True, True]
    assert cycles[0].figures["on_time_s"].value == pytest.approx(ON_S, abs=0.05)
    assert cycles[0].figures["coasting_time_s"].reason == "there is no speed sensor"
    assert cycles[0].figures["starting_time_s"].reason.startswith("there is no speed sensor")


def test_a_current_that_turns_nothing_ends_where_it_ends_though_the_run_state_is_not_known() -> None:
    hums = (6.0, 24.0, 0.2, 0.0)  # too little for a held rotor, and no turn: unknown from the start-time limit on
    cycles = told((REST, hums, REST, *CYCLE))
    assert [each.is_start for each in cycles] == [True, True]
    assert cycles[0].figures["on_time_s"].value == pytest.approx(6.0, abs=0.05)


def test_a_motor_that_is_at_once_held_when_it_is_first_known_was_off_before() -> None:
    (cycle,) = told(((0.3, 0.0, 0.0, 0.0), (2.5, 230.0, 1.5, 0.0)), TinyBoard(inputs=()))
    assert cycle.is_start


@pytest.mark.parametrize("seed", range(3))
def test_with_random_gaps_no_start_is_made_up_and_none_is_lost_silently(seed: int) -> None:
    draw, count = np.random.default_rng(seed), 3
    messages: list[Message] = [*messages_of((REST, *CYCLE * count))]
    for _ in range(3):
        from_s = float(draw.uniform(0.0, 11.0))
        messages = without(messages, from_s, from_s + float(draw.choice((0.02, 0.3, 1.5, 5.0))))
    cycles = cycles_of(messages)
    starts = sum(each.is_start for each in cycles)
    assert starts <= count
    assert starts == count or sum(each.hidden_s for each in cycles) > 0.0


def test_a_board_that_starts_anew_ends_the_cycle_with_its_reason() -> None:
    board = TinyBoard()
    story = (REST, *CYCLE[:2])
    pipeline = Pipeline(RigSettings("r"))
    pipeline.push(wire(board.messages(story)), 0.0)
    output = pipeline.push(wire(replace_boot(board.messages(story)), boot=8), 10.0)
    (cycle,) = [each for part in output.parts for each in part.cycles]
    assert cycle.doubts == ("the board started anew, or said another thing of itself, before it ended",)
    assert cycle.figures["on_time_s"].bound is Bound.LEAST
