"""Stories as data: what a person may write, what it becomes, and what is said of what is wrong."""

from collections.abc import Callable
from itertools import pairwise
from pathlib import Path

import pytest

from simulator.bench import BENCH_KEYS, bench, bench_motor, in_turn, with_stories
from simulator.motors import MOTORS
from simulator.stories import MOTOR_FAULTS, Story
from simulator.story_error import StoryError
from tests.simulator.played import Player, complaints

Reads = Callable[[str], tuple[Story, ...]]


@pytest.fixture
def reads(tmp_path: Path) -> Reads:
    """The stories of a text for the bilge pump."""

    def read(text: str) -> tuple[Story, ...]:
        file = tmp_path / "mine.yaml"
        file.write_text(text, encoding="utf-8")
        return with_stories(bench_motor("bilge_pump"), file).stories

    return read


def told(steps: str, lasts_s: float = 10) -> str:
    return f"stories:\n- name: a story\n  says: something\n  lasts_s: {lasts_s}\n  steps:\n{steps}"


def test_the_first_step_sets_every_control_so_that_a_story_plays_alike_after_any_other(reads: Reads) -> None:
    (story,) = reads(told("  - {at_s: 1.5, supply_on: on}\n"))
    assert set(story.steps[0].controls) == {control.name for control in MOTORS["permanent_magnet_dc"].controls}
    assert [(step.time_s, dict(step.controls)) for step in story.steps[1:]] == [(1.5, {"supply_on": 1.0})]


def test_a_slow_change_becomes_even_steps_from_just_after_its_start_to_its_end(reads: Reads) -> None:
    (story,) = reads(told("  - {from_s: 1, to_s: 1.04, load_factor: [1, 2]}\n"))
    assert [(step.time_s, step.controls["load_factor"]) for step in story.steps[1:]] == [(1.02, 1.5), (1.04, 2.0)]


def test_rounds_are_repeated_as_often_as_written_and_other_steps_go_between(reads: Reads) -> None:
    rounds = "  - {from_s: 1, every_s: 2, times: 3, steps: [{at_s: 0, supply_on: on}, {at_s: 1, supply_on: off}]}\n"
    (story,) = reads(told(rounds + "  - {at_s: 3.5, load_factor: 2}\n"))
    assert [step.time_s for step in story.steps[1:]] == [1, 2, 3, 3.5, 4, 5, 6]


def test_what_stands_beside_a_round_or_a_hand_holds_from_its_beginning(reads: Reads) -> None:
    rounds = (
        "  - {from_s: 1, every_s: 2, times: 1, steps: [{at_s: 1, supply_on: on}], load_factor: 2, faults: [overload]}\n"
    )
    hand = "  - {from_s: 4, to_s: 5, hand: forward, rpm: [60, 60], load_factor: 1, faults: []}\n"
    (story,) = reads(told(rounds + hand))
    beside = [(step.time_s, dict(step.controls), step.faults) for step in story.steps[1:] if step.faults is not None]
    assert beside == [(1, {"load_factor": 2}, ("overload",)), (4, {"load_factor": 1}, ())]


def test_parameters_of_a_file_change_what_follows_from_them(tmp_path: Path) -> None:
    file = tmp_path / "mine.yaml"
    file.write_text("parameters: {inertia_kg_m2: 1.0e-4, limit_a: 4}\n" + told("  - {at_s: 1, supply_on: on}\n"))
    motor = with_stories(bench_motor("gimbal"), file)
    assert motor.parameters.inertia_kg_m2 == 1e-4
    assert motor.stories[0].steps[0].controls["current_limit_a"] == 4


def test_a_story_that_is_played_alone_does_not_hold_up_the_others() -> None:
    pump = bench_motor("bilge_pump")
    alone = [story.name for story in pump.stories if story not in in_turn(pump)]
    assert alone == ["a stick and nobody there", "a night"]


def test_a_hand_turns_unevenly_within_its_speeds_and_alike_for_a_seed(reads: Reads) -> None:
    text = told("  - {from_s: 1, to_s: 9, hand: back and forth, rpm: [60, 150]}\n")
    (story,) = reads(text)
    speeds = [step.controls["hand_rpm"] for step in story.steps[1:]]
    assert 60 <= max(speeds) <= 150
    assert -150 <= min(speeds) <= -60
    assert reads(text) == (story,)
    (other,) = reads(text.replace("says", "seed: 5\n  says"))
    assert [step.controls["hand_rpm"] for step in other.steps[1:]] != speeds


@pytest.mark.parametrize(
    ("steps", "line", "said"),
    [
        ("  - {at_s: 1, suply_on: on}\n", 6, "no 'suply_on' here; the nearest is 'supply_on'"),
        ("  - {at_s: 2, supply_on: on}\n  - {at_s: 1, supply_on: off}\n", 7, "before the step above, at 2 s"),
        ("  - {at_s: 1, polarity: 3}\n", 6, "3 is outside -1 to 1"),
        ("  - {at_s: 1, supply_on: maybe}\n", 6, "'maybe' is no number"),
        ("  - {at_s: 1, load_factor: .nan}\n", 6, "is no number"),
        ("  - {at_s: 1, load_factor: nan}\n", 6, "nan is outside 0 to 10"),
        ("  - {at_s: 1, supply_on: on, supply_on: off}\n", 6, "supply_on stands here twice"),
        ("  - {at_s: 11, supply_on: on}\n", 2, "has a step at 11 s (line 6) but lasts 10 s"),
        ("  - {at_s: -1, supply_on: on}\n", 6, "-1 is outside 0"),
        ("  - {supply_on: on}\n", 6, "at_s is missing"),
        ("  - {from_s: 3, to_s: 2, load_factor: [1, 2]}\n", 6, "2 s is not after 3 s"),
        ("  - {from_s: 1, to_s: 2, load_factor: 2}\n", 6, "write a list here"),
        ("  - {from_s: 1, to_s: 2, load_factor: [1, 2, 3]}\n", 6, "write two values"),
        ("  - {at_s: 1, faults: [brush_ware]}\n", 6, "nearest is 'brush_wear'"),
        ("  - {from_s: 0, every_s: 1, times: 2, steps: [{at_s: 1, supply_on: on}]}\n", 6, "after the next round"),
        ("  - {from_s: 1, to_s: 2, hand: sideways, rpm: [1, 2]}\n", 6, "no 'sideways'"),
        (
            "  - {from_s: 0, every_s: 0.001, times: 100000, steps: [" + "{at_s: 0, jammed: on}, " * 3 + "]}\n",
            2,
            "more than",
        ),
        ("  - supply on\n", 6, "write `key: value` here"),
        ("  - {at_s: 1, from_s: 1, to_s: 2, load_factor: [1, 2]}\n", 6, "at_s does not belong beside from_s"),
        ("  - {from_s: 1, to_s: 2, every_s: 1, times: 2, steps: []}\n", 6, "to_s does not belong beside steps"),
        ("  - {at_s: 1, supply_on: [\n", 7, ""),
    ],
)
def test_what_is_wrong_is_said_with_file_line_and_what_to_write(reads: Reads, steps: str, line: int, said: str) -> None:
    with pytest.raises(StoryError) as refused:
        reads(told(steps))
    assert "mine.yaml, line " in str(refused.value)
    assert f", line {line}: " in str(refused.value)
    assert said in str(refused.value)


@pytest.mark.parametrize(
    ("text", "said"),
    [
        ("", "is empty"),
        ("stories: 3\n", "line 1: write a list here"),
        ("stories: []\n", "line 1: the list is empty"),
        ("story: []\n", "line 1: there is no 'story' here; the nearest is 'stories'"),
        ("plate: {voltage_v: -12}\nstories: []\n", "line 1: -12 is outside"),
        ("plate: {voltage: 12}\nstories: []\n", "nearest is 'voltage_v'"),
        ("parameters: {inertia_kg_m2: 0}\nstories: []\n", "line 1: inertia_kg_m2 must be above 0"),
        ("parameters: {inertia: 1}\nstories: []\n", "nearest is 'inertia_kg_m2'"),
        (
            "stories:\n- {name: a, says: b, lasts_s: 3, steps: []}\n- {name: a, says: b, lasts_s: 3, steps: []}\n",
            "line 3",
        ),
        ("stories:\n- {name: a, says: b, lasts_s: 3, damage: {flip: 0.1}, steps: []}\n", "nearest is 'flipped'"),
        ("stories:\n- {name: a, says: b, lasts_s: 3, damage: {flipped: 0.9, late: 0.9}, steps: []}\n", "more than 1"),
    ],
)
def test_a_file_or_plate_with_impossible_values_is_refused(reads: Reads, text: str, said: str) -> None:
    with pytest.raises(StoryError, match=r"mine\.yaml") as refused:
        reads(text)
    assert said in str(refused.value)


def test_a_file_that_is_not_there_is_said() -> None:
    with pytest.raises(StoryError, match="cannot be read"):
        with_stories(bench_motor("bilge_pump"), Path("nowhere.yaml"))


def test_every_fault_of_the_catalogue_has_a_story() -> None:
    told_of = {fault for motor in bench() for story in motor.stories for fault in story.faults}
    assert sorted(set(MOTOR_FAULTS) - told_of) == []


@pytest.mark.parametrize("key", BENCH_KEYS)
def test_steps_go_forward_and_a_viewer_sees_something_within_three_seconds(key: str) -> None:
    for story in bench_motor(key).stories:
        assert all(a.time_s <= b.time_s for a, b in pairwise(story.steps))
        assert any(0 < step.time_s <= 3 for step in story.steps), story.name


_LONG = [pytest.param(key, marks=pytest.mark.long) for key in BENCH_KEYS[3:]]


@pytest.mark.parametrize("key", [*BENCH_KEYS[:3], *_LONG])
def test_a_story_stays_in_range_ends_at_rest_and_its_energy_adds_up(key: str) -> None:
    """The first two of each motor, one after the other; `prove stories` plays all, the long ones too."""
    motor = bench_motor(key)
    player, stories = Player(motor), in_turn(motor)[:2]
    assert {story.name: complaints(player, story) for story in stories} == {story.name: [] for story in stories}
