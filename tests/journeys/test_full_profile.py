"""The small twin of `run.py prove full_profile`."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser

from tests.journeys.full_profile import watched


@pytest.mark.long
def test_eight_channels_of_20_khz_come_whole_while_the_page_is_open(browser: Browser, tmp_path: Path) -> None:
    found = watched(browser, tmp_path, 4.0)
    assert found.whole, found
    assert found.frames > 1300
    assert found.pictures_drawn > 20
