"""Every reason for doubt or absence from wire bytes to the words on the page: played by the service, seen in a browser.

Worlds make the reasons (tests/server/worlds_of_reasons.py); the small twin is tests/journeys/test_page_reasons.py.
"""

import json
import os
import sys
from pathlib import Path

from playwright.sync_api import sync_playwright

from dashboard.build_page import node_and_npm
from tests.conftest import launched
from tests.journeys.bench import service
from tests.journeys.page import opened
from tests.journeys.reasons_seen import Seen, look, record
from tests.server.moments_of_reasons import moments
from tests.server.test_reasons import made_by_worlds
from tests.server.worlds_of_reasons import worlds


def main(state: Path, _seed: int) -> int:
    """Print a table; 0 when each was seen. What an earlier, interrupted run has looked for is not looked for again."""
    kept = state / "reasons.json"
    done: dict[str, Seen] = {}
    if kept.exists():
        done = {each[0]: Seen(*each) for each in json.loads(kept.read_text())}
    phrases = made_by_worlds()
    left = moments(worlds(), [each for each in phrases if each not in done])
    os.environ.setdefault("PLAYWRIGHT_NODEJS_PATH", str(node_and_npm()[0]))
    data = state / f"data-{len(done)}"
    runs = record(data, left)
    with sync_playwright() as playwright, service(data) as running:
        browser = launched(playwright)
        if browser is None:
            sys.exit("This proof needs a Chromium: sudo apt install chromium")
        with opened(browser, "about:blank") as page:
            for run, moment in zip(runs, left, strict=True):
                for seen in look(page, running, run, moment):
                    done[seen.words] = seen
                    print(
                        f"{seen.words[:78]:80}{seen.mark:10}{seen.reading:34}{'yes' if seen.seen else 'NO'}", flush=True
                    )
                kept.write_text(json.dumps(list(done.values())))
    missed = [words for words in phrases if words not in done or not done[words].seen]
    print(f"{len(phrases)} reasons, {len(phrases) - len(missed)} seen on the page; not seen: {missed or 'none'}")
    return 1 if missed else 0
