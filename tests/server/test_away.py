"""How long a board was away: pauses that grow and end, gaps of the run, words that say what to do."""

import pytest

from server.away import CALM_S, PAUSES_S, Away, too_slow_words
from server.live.records import Recording, RecordingState
from server.runs.writer import Writing


def test_each_pause_is_longer_until_it_was_kept_up_with_for_a_while() -> None:
    away, now_s, pauses = Away(), 100.0, []
    for _ in range(len(PAUSES_S) + 2):
        away.opened(True, "run", now_s)
        now_s += 10.0
        away.opened(False, "run", now_s)
        pauses.append(away.next_pause_s(now_s))
        now_s += pauses[-1]
    assert pauses == [5.0, 10.0, 20.0, 40.0, 80.0, 160.0, 300.0, 300.0, 300.0]
    away.opened(True, "run", now_s)
    assert away.next_pause_s(now_s + CALM_S) == 5.0


def test_gaps_are_counted_for_the_run_that_they_are_in() -> None:
    away, writing = Away(), Writing("recording", "one", 10.0)
    away.opened(True, "one", 10.0)
    assert away.recorded(writing, "") == Recording(RecordingState.RECORDING, 10.0, None, "one", "", 0.0)
    away.opened(False, "one", 12.0)
    assert away.recorded(writing, "") == Recording(RecordingState.GAP, 10.0, 12.0, "one", "", 0.0)
    away.opened(True, "one", 15.0)
    away.opened(False, "one", 16.0)
    away.opened(True, "one", 16.5)
    assert away.recorded(writing, "").gaps_s == pytest.approx(3.5)
    assert away.recorded(Writing("recording", "two", 20.0), "").gaps_s == 0.0
    assert away.recorded(writing, "the disk is full") == Recording(RecordingState.FAILED, reason="the disk is full")


def test_it_says_what_is_short_and_of_a_software_board_nothing_of_ports() -> None:
    demo, board = too_slow_words("cabin_ventilator"), too_slow_words("")
    assert demo[0] == "This PC is too slow for the demo motor cabin ventilator now"
    for _, detail in (demo, board):
        assert detail.startswith("Its processor has no time left.")
        assert "port" not in detail
