"""Stalled, released, coasting, stopped: told once, at the row that changed."""

import pytest

from server.events.state_changes import STATE_CHANGES
from tests.server.events.told import block, events, stepped
from tests.server.tiny_board import STORY


@pytest.mark.parametrize(
    ("kind", "text", "board_s"),
    [
        ("stalled", "Stalled", 4.6),  # held at 4.1 s, half a second before it is told
        ("released", "Came free and turned again", 5.46),
        ("coasting", "Lost its current and coasted", 7.02),
        ("stopped", "Stopped", 8.87),
    ],
)
def test_the_story_has_each_of_them_once(kind: str, text: str, board_s: float) -> None:
    (found,) = events(STORY, kind)
    assert found.text == text
    assert found.board_s == pytest.approx(board_s, abs=0.05)


def test_a_motor_that_was_switched_off_while_held_does_not_come_free_when_it_starts() -> None:
    states = ["stalled", "unknown", "starting"]
    assert stepped(STATE_CHANGES, [block(k, state=state) for k, state in enumerate(states)]) != []
    kinds = [each.kind for each in stepped(STATE_CHANGES, [block(k, state=s) for k, s in enumerate(states)])]
    assert kinds == ["stalled"]
    straight = [block(0, state="stalled"), block(1, state="starting")]
    assert [each.kind for each in stepped(STATE_CHANGES, straight)] == ["stalled", "released"]


def test_not_knowing_in_between_is_no_change() -> None:
    blocks = [block(k, state=state) for k, state in enumerate(["coasting", "unknown", "coasting", "resting"])]
    assert [each.kind for each in stepped(STATE_CHANGES, blocks)] == ["stopped"]
