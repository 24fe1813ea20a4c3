"""The full board for ten minutes, from a file of wire bytes through a pty, while the page is open: no frame is lost.

The large twin of tests/journeys/test_full_profile.py. One stretch of ten minutes; what an earlier run found is printed.
"""

import json
import os
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

from dashboard.build_page import node_and_npm
from tests.conftest import launched
from tests.journeys.full_profile import Found, watched

SECONDS = 600.0


def main(state: Path, _seed: int) -> int:
    """0 when every frame that was written was read and every sample came."""
    kept = state / "found.json"
    if not kept.exists():
        os.environ.setdefault("PLAYWRIGHT_NODEJS_PATH", str(node_and_npm()[0]))
        with sync_playwright() as playwright:
            browser = launched(playwright)
            if browser is None:
                sys.exit("This proof needs a Chromium: sudo apt install chromium-headless-shell")
            kept.write_text(json.dumps(watched(browser, state, SECONDS)._asdict()))
    found = Found(**json.loads(kept.read_text()))
    for name, value in found._asdict().items():
        print(f"{name:24} {value}")
    return 0 if found.whole else 1
