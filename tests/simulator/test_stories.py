"""Stories as data: their steps, and the slow changes written as steps."""

import pytest

from simulator.bench import BENCH, BenchMotor
from simulator.motors import MOTORS
from simulator.stories import Story, ramp
from simulator.stories.story import Step


def test_a_ramp_goes_in_even_steps_from_just_after_its_start_to_its_end() -> None:
    assert ramp("duty", 1.0, 0.04, 0.0, 0.2) == ((1.02, {"duty": 0.1}), (1.04, {"duty": 0.2}))
    down = ramp("duty", 0.0, 1.0, 0.9, 0.0)
    assert len(down) == 50
    assert down[-1] == (1.0, {"duty": 0.0})


def test_a_story_that_goes_back_in_time_or_leaves_its_duration_is_refused() -> None:
    wrong: tuple[tuple[Step, ...], ...] = ((), ((1.0, {}),), ((0.0, {}), (2.0, {}), (1.0, {})), ((0.0, {}), (3.0, {})))
    for steps in wrong:
        with pytest.raises(ValueError, match="order"):
            Story("x", "", steps, 3.0)


@pytest.mark.parametrize("motor", BENCH, ids=lambda motor: motor.key)
def test_every_story_sets_at_its_beginning_each_control_that_any_of_them_uses(motor: BenchMotor) -> None:
    stories = motor.stories
    used = {control for story in stories for _, controls in story.steps for control in controls}
    for story in stories:
        assert set(story.steps[0][1]) == used
        assert 15 <= story.duration_s <= 40


@pytest.mark.parametrize("motor", BENCH, ids=lambda motor: motor.key)
def test_a_viewer_sees_something_within_three_seconds_of_every_story(motor: BenchMotor) -> None:
    for story in motor.stories:
        assert any(0 < time_s <= 3 for time_s, _ in story.steps)


def test_the_stories_only_use_controls_that_the_models_have() -> None:
    for motor in BENCH:
        known = {control.name: control for control in MOTORS[motor.type]().controls}
        for story in motor.stories:
            for _, controls in story.steps:
                for name, value in controls.items():
                    assert known[name].lowest <= value <= known[name].highest
