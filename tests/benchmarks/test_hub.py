"""The hub with few pairs: three times the goal is the alarm, the goal itself belongs to the proof."""

import pytest

from tests.benchmarks.hub import measure

pytestmark = pytest.mark.alone


def test_sending_costs_little_more_than_a_broadcast_and_a_stuck_viewer_costs_the_others_nothing() -> None:
    sending, everything, others, kept = measure(1)
    assert sending.ratio <= 3 * sending.at_most
    assert everything.ratio <= 3 * everything.at_most
    assert others.met
    assert kept.met
