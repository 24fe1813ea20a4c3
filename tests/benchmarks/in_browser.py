"""A benchmark that needs a page, with a browser of its own."""

import os
from collections.abc import Callable

from playwright.sync_api import Browser, sync_playwright

from dashboard.build_page import node_and_npm
from tests.benchmarks.pairs import Row
from tests.conftest import launched


def in_browser(measure_in: Callable[[Browser, int], list[Row]], pairs: int) -> list[Row]:
    """Its rows; none where this PC has no browser."""
    os.environ.setdefault("PLAYWRIGHT_NODEJS_PATH", str(node_and_npm()[0]))
    with sync_playwright() as playwright:
        browser = launched(playwright)
        if browser is None:
            return []
        try:
            return measure_in(browser, pairs)
        finally:
            browser.close()
