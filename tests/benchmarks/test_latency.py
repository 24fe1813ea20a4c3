"""The way from byte to viewer, one short batch: three times the goal is the alarm, the goal belongs to the proof."""

import pytest

from tests.benchmarks.latency import measure

pytestmark = pytest.mark.alone


@pytest.mark.long
def test_a_viewer_sees_a_frame_about_a_tick_after_it_was_written() -> None:
    middle, last = measure(1, batch_s=1.0)
    assert middle.ratio <= 3 * middle.at_most
    assert last.ratio <= 3 * last.at_most
