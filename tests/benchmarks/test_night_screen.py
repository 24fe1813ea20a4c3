"""How soon a night is drawn, small: three times the goal is the alarm, the goal belongs to the proof."""

import pytest
from playwright.sync_api import Browser

from tests.benchmarks.night_screen import measure_in

pytestmark = pytest.mark.alone


@pytest.mark.long
def test_forty_readings_of_a_night_are_drawn_soon_after_they_are_asked_for(browser: Browser) -> None:
    (row,) = measure_in(browser, 3, 300.0)
    assert row.ratio <= 3 * row.at_most
