"""Every reason for doubt or absence from wire bytes to the words on the page: played by the service, seen in a browser.

Worlds make the reasons (tests/server/worlds_of_reasons.py), faults put into the program what is said of those
(tests/journeys/own_faults.py). The small twin is tests/journeys/test_page_reasons.py.
"""

import json
import os
import sys
from pathlib import Path

from playwright.sync_api import Browser, sync_playwright

from dashboard.build_page import node_and_npm
from tests.conftest import launched
from tests.journeys import own_faults
from tests.journeys.bench import service
from tests.journeys.page import opened
from tests.journeys.reasons_seen import Seen, look, record
from tests.server.moments_of_reasons import Moment, moments
from tests.server.test_reasons import made_by_worlds
from tests.server.tiny_board import TinyBoard
from tests.server.worlds_of_reasons import three_phases, worlds


class Kept:
    """What has been looked for, also by an earlier run that was interrupted."""

    def __init__(self, state: Path) -> None:
        self._file = state / "reasons.json"
        told = json.loads(self._file.read_text()) if self._file.exists() else []
        self.seen = {each[0]: Seen(*each) for each in told}

    def take(self, found: list[Seen]) -> None:
        """Print and keep."""
        for each in found:
            self.seen[each.words] = each
            print(f"{each.words[:78]:80}{each.mark:10}{each.reading:34}{'yes' if each.seen else 'NO'}", flush=True)
        self._file.write_text(json.dumps(list(self.seen.values())))

    def left(self, phrases: tuple[str, ...] | list[str]) -> list[str]:
        """Those of them that were not looked for yet."""
        return [each for each in phrases if each not in self.seen]


def main(state: Path, _seed: int) -> int:
    """Print a table; 0 when each was seen."""
    kept, made = Kept(state), made_by_worlds()
    plain = moments(worlds(), kept.left(made))
    with own_faults.put_in():
        faulty = moments(
            (TinyBoard().wire(((0.6, 230.0, 0.5, 1400.0),)), *three_phases()), kept.left(own_faults.PHRASES)
        )
    os.environ.setdefault("PLAYWRIGHT_NODEJS_PATH", str(node_and_npm()[0]))
    with sync_playwright() as playwright:
        browser = launched(playwright)
        if browser is None:
            sys.exit("This proof needs a Chromium: sudo apt install chromium-headless-shell")
        _look_for(browser, kept, state / f"data-{len(kept.seen)}", plain, "server")
        _look_for(browser, kept, state / f"faulty-{len(kept.seen)}", faulty, own_faults.PROGRAM)
    wanted = [*made, *own_faults.PHRASES]
    missed = [words for words in wanted if words not in kept.seen or not kept.seen[words].seen]
    print(f"{len(wanted)} reasons, {len(wanted) - len(missed)} seen on the page; not seen: {missed or 'none'}")
    return 1 if missed else 0


def _look_for(browser: Browser, kept: Kept, data: Path, its: list[Moment], program: str) -> None:
    """Play each to the page by a service of its own."""
    runs = record(data, its)
    with service(data, program=program) as running, opened(browser, running.url) as page:
        for run, moment in zip(runs, its, strict=True):
            kept.take(look(page, running, run, moment))
