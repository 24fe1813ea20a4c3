"""The current of a running motor goes from one level to another."""

import pytest

from server.events.load_step import LOAD_STEP
from tests.server.events.told import block, events, stepped
from tests.server.tiny_board import STORY


def test_a_step_is_told_with_both_levels_and_when_it_began() -> None:
    (found,) = [each for each in events(STORY, "load_step") if "0.7 A" in each.text and "0.5" in each.text]
    assert found.text == "Current rose from 0.5 A to 0.7 A"
    assert found.board_s == pytest.approx(3.0)


def test_slow_drift_and_single_odd_windows_are_no_steps() -> None:
    drift = [block(k, amps=0.5 * (1 + 0.001 * k)) for k in range(100)]
    assert stepped(LOAD_STEP, drift) == []
    odd = [block(k, amps=0.9 if k == 5 else 0.5) for k in range(12)]
    assert stepped(LOAD_STEP, odd) == []


def test_only_a_running_motor_has_load_steps() -> None:
    blocks = [block(k, amps=0.5 if k < 5 else 0.9, state="starting") for k in range(12)]
    assert stepped(LOAD_STEP, blocks) == []
