"""From an edge to the ring, one short batch: three times the goal is the alarm, the goal belongs to the proof."""

import numpy as np
import pytest
from playwright.sync_api import Browser

from tests.benchmarks.hall_latency import SHOWN_WITHIN_S, lateness, measure_in

pytestmark = pytest.mark.alone


@pytest.mark.long
def test_the_ring_follows_an_edge_within_a_fraction_of_a_second(browser: Browser) -> None:
    row = measure_in(browser, 1, batch_s=4.0)[0]
    assert row.ratio <= 3 * row.at_most, row.note


def test_an_edge_that_is_never_shown_counts_as_late() -> None:
    late = lateness([(0.5, 5), (1.0, 1), (2.0, 3)], [(1.04, 1)], 0.9)
    assert np.allclose(late, [0.04, SHOWN_WITHIN_S])
