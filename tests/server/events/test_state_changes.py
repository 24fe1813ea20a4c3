"""Stalled, released, coasting, stopped: told once, at the row that changed."""

import pytest

from server.events.state_changes import STATE_CHANGES
from tests.server.events.told import block, events, stepped
from tests.server.tiny_board import STORY


@pytest.mark.parametrize(
    ("kind", "text", "board_s"),
    [
        ("stalled", "Stalled", 4.07),  # its last pulse came while it was brought to rest, from 4.0 to 4.1 s
        ("released", "Came free and turned again", 5.42),
        ("coasting", "Lost its current and coasted", 7.02),
        ("stopped", "Stopped", 8.0),
    ],
)
def test_the_story_has_each_of_them_once(kind: str, text: str, board_s: float) -> None:
    (found,) = events((*STORY, (0.6, 0.0, 0.0, 0.0)), kind)
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
    states = ["coasting", "unknown", "coasting", *["resting"] * 7]
    blocks = [block(k, state=state) for k, state in enumerate(states)]
    assert [each.kind for each in stepped(STATE_CHANGES, blocks)] == ["stopped"]


@pytest.mark.parametrize(
    ("rest_s", "rpm", "kinds"),
    [
        (0.4, -900.0, []),  # on the way to the other direction
        (0.4, 900.0, ["stopped"]),
        (1.2, -900.0, ["stopped"]),
    ],
)
def test_a_short_stop_is_told_unless_the_shaft_then_turns_the_other_way(
    rest_s: float, rpm: float, kinds: list[str]
) -> None:
    states = ["running", "coasting", *["resting"] * round(rest_s / 0.2), *["starting"] * 3, *["running"] * 5]
    speeds = [900.0, 500.0, *[0.0] * round(rest_s / 0.2), *[rpm] * 8]
    blocks = [block(k, state=state, rpm=at) for k, (state, at) in enumerate(zip(states, speeds, strict=True))]
    found = [each for each in stepped(STATE_CHANGES, blocks) if each.kind != "coasting"]
    assert [each.kind for each in found] == kinds
    assert all(each.board_s == pytest.approx(0.4) for each in found)


@pytest.mark.parametrize(("rpm", "told"), [(900.0, True), (200.0, True), (100.0, False), (float("nan"), True)])
def test_a_shaft_that_its_drive_brought_down_before_the_current_ended_does_not_coast(rpm: float, told: bool) -> None:
    blocks = [block(0, state="running"), block(1, state="coasting", rpm=rpm)]
    assert [each.kind for each in stepped(STATE_CHANGES, blocks)] == (["coasting"] if told else [])


def test_only_what_coasts_has_a_speed_in_words_and_only_what_is_held_a_current() -> None:
    states = ["running", "stalled", "starting", "coasting", *["resting"] * 7]
    found = stepped(STATE_CHANGES, [block(k, state=state, amps=1.25) for k, state in enumerate(states)])
    assert [(each.kind, each.detail) for each in found] == [
        ("stalled", "1.25 A"),
        ("released", ""),
        ("coasting", "1400 r/min"),
        ("stopped", ""),
    ]
