"""A play that is behind its pace tells the one that it reaches, and nothing of that once it keeps its pace."""

import pytest

from server.live.reached import FREE_S, OVER_S, Reached


def test_what_it_reaches_is_measured_over_a_while_and_forgotten_when_the_pace_is_kept() -> None:
    reached = Reached()
    for k in range(round(OVER_S / 0.3)):
        reached.behind(1000.0 + 34.0 * 0.3 * k, 50.0 + 0.3 * k)
        assert reached.pace is None  # too short to be told
    for k in range(round(OVER_S / 0.3), 30):
        reached.behind(1000.0 + 34.0 * 0.3 * k, 50.0 + 0.3 * k)
    assert reached.pace == pytest.approx(34.0)
    reached.in_time(58.8)  # a moment behind the last lag
    assert reached.pace == pytest.approx(34.0)
    reached.in_time(58.7 + FREE_S)
    assert reached.pace is None


def test_a_clock_that_is_set_back_or_a_place_before_begins_anew() -> None:
    reached = Reached()
    reached.behind(1000.0, 50.0)
    reached.behind(1000.5, 40.0)
    reached.behind(900.0, 43.0)
    assert reached.pace is None
    reached.behind(930.0, 46.0)
    assert reached.pace == pytest.approx(10.0)
