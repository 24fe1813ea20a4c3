"""The small twin of the benchmark of wiring; the goal itself belongs to `run.py prove speed`."""

import pytest

from tests.benchmarks.wiring import measure

pytestmark = pytest.mark.alone


def test_an_hour_of_edges_costs_seconds() -> None:
    for row in measure(pairs=1):
        assert row.ratio <= 3 * row.at_most
