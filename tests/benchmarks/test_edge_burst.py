"""The small twin of the benchmark of bursts; the goal itself belongs to `run.py prove speed`."""

import pytest

from tests.benchmarks.edge_burst import CPU_S, GROWTH_MB, burst

pytestmark = pytest.mark.alone


def test_a_burst_of_edges_comes_through_whole_and_memory_stays_flat() -> None:
    assert burst(1.0)[0] <= 3 * CPU_S / 10
    assert burst(1.0, traced=True)[1] <= GROWTH_MB
