"""The port's share of a core, small: three times the goal is the alarm, the goal itself belongs to the proof."""

import pytest

from tests.benchmarks.port import measure

pytestmark = pytest.mark.alone


def test_the_ports_thread_costs_little_more_than_a_blocking_read() -> None:
    cpu, wake_ups = measure(3, batch_s=0.4)
    assert cpu.ratio <= 3 * cpu.at_most
    assert wake_ups.ratio <= wake_ups.at_most
