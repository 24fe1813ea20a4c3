"""What the trace panel costs to paint, small: three times the goal is the alarm, the goal belongs to the proof."""

import pytest
from playwright.sync_api import Browser

from tests.benchmarks.paint import measure_in

pytestmark = pytest.mark.alone


@pytest.mark.long
def test_the_trace_panel_costs_little_more_than_its_lines_on_a_bare_canvas(browser: Browser) -> None:
    (row,) = measure_in(browser, 1, frames=60)
    assert row.ratio <= 3 * row.at_most
