"""A Hall state that does not belong is an event with its time."""

import pytest

from tests.server.bench_stories import told


def test_a_signal_that_sticks_is_told_when_it_makes_a_state_that_does_not_belong() -> None:
    # A low from 6 to 11 s makes state 0, high from 14 to 19 s state 7 (enumerated: three signals 120 degrees apart).
    its = [each for each in told("tender_thruster", "stuck Hall signal").events if each.kind == "hall_states"]
    assert [each.text.split(",")[0] for each in its] == ["Hall state 0 came", "Hall state 7 came"]
    assert 6.0 <= its[0].board_s < 6.05
    assert 14.0 <= its[1].board_s < 14.05


@pytest.mark.long
def test_a_healthy_run_has_none() -> None:
    assert [each for each in told("tender_thruster", "load and stall").events if each.kind == "hall_states"] == []
