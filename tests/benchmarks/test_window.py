"""The small twin of goal 3a; the goal itself belongs to `run.py prove speed`."""

import pytest

from tests.benchmarks.window import measure

pytestmark = pytest.mark.alone


def test_readings_of_a_window_cost_a_few_transforms() -> None:
    for row in measure(pairs=3):
        assert row.ratio <= 3 * row.at_most
