"""What is concluded of a run: a small twin of `run.py prove commutation`, and stories of the bench from wire bytes."""

from functools import lru_cache

import pytest

from server.config import RigSettings
from server.pipeline import Pipeline
from server.verdict import Certainty
from simulator.bench import bench_board, bench_motor, story_of
from tests.proofs.commutation import FAULTS, NONE, Fault, told
from tests.server.bench_stories import told as played_story

_ONE_OF_EACH = ("lead V off", "W: 20 % more", "upper switch U", "lower switch V", "20 degrees late")


@pytest.mark.parametrize("seed", [1001, pytest.param(1007, marks=pytest.mark.long)])
def test_a_healthy_motor_gets_no_verdict(seed: int) -> None:
    assert told(NONE, seed)[0] == []


@pytest.mark.parametrize("fault", [each for each in FAULTS if each.name in _ONE_OF_EACH], ids=lambda each: each.name)
def test_what_breaks_in_a_run_is_told_as_what_it_is(fault: Fault) -> None:
    found, _, direction = told(fault, 1003)
    assert found == [(fault.key_of(direction), fault.about)]


@lru_cache
def conclusions(story: str) -> list[tuple[float, str, str]]:
    """When another verdict stood, its key, and what it is about; each from wire bytes."""
    board, pipeline, found = bench_board("tender_thruster", story=story), Pipeline(RigSettings("r")), []
    before: tuple[str, str] = ("", "")
    for half in range(round(2 * story_of(bench_motor("tender_thruster"), story).duration_s)):
        output = pipeline.push(board.step(0.5), 0.0)
        for verdict in output.verdicts or ():
            assert verdict.certainty is not Certainty.OPEN
            assert verdict.next_test is not None
            assert verdict.next_test.caution
        now = next(((each.key, each.about) for each in output.verdicts or ()), ("", ""))
        if output.verdicts is not None and now != before:
            found.append((0.5 * half, *now))
            before = now
    return found


def test_a_lead_that_comes_off_is_told_within_two_seconds_and_forgotten_when_it_is_put_on_again() -> None:
    (came_s, key, about), (went_s, *_) = conclusions("phase lead off")  # off at 6 s, on again at 13 s
    assert (key, about) == ("phase_open", "W")
    assert 6.0 < came_s <= 8.0
    assert 13.0 < went_s <= 16.0


@pytest.mark.long
def test_a_verdict_is_a_moment_among_what_happened_once() -> None:
    told_s = [
        each.board_s for each in played_story("tender_thruster", "phase lead off").events if each.kind == "concluded"
    ]
    assert len(told_s) == 1
    assert 6.0 < told_s[0] <= 8.0


def test_healthy_steps_of_speed_load_and_stall_get_none() -> None:
    assert conclusions("load and stall") == []
