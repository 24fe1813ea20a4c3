"""The shaft turns the other way."""

from server.events.reversed import REVERSED
from tests.server.events.told import block, stepped


def test_turning_the_other_way_is_told_after_50_ms() -> None:
    rpm = [1400.0] * 5 + [0.0] * 5 + [-300.0] * 10
    (found,) = stepped(REVERSED, [block(0), block(1, rpm=rpm)])
    assert (found.text, found.detail, round(found.board_s, 2)) == ("Reversed", "-300 r/min", 0.35)


def test_trembling_and_unknown_speed_are_no_reversal() -> None:
    rpm = [-8.0, float("nan")] * 10
    assert stepped(REVERSED, [block(0), block(1, rpm=rpm), block(2)]) == []


def test_the_first_direction_is_none() -> None:
    assert stepped(REVERSED, [block(0, rpm=-900.0), block(1, rpm=-900.0)]) == []
