"""Makes the README's picture: starts the demo, waits until the ventilator runs, takes dashboard/watch.png.

    .venv/bin/python -m tests.journeys.picture [--all FOLDER]      # --all: both sizes, both themes, both rigs

Needs what the tests need (`python3 run.py test` installs it) and a browser.
"""

import argparse
import itertools
import tempfile
from pathlib import Path

from playwright.sync_api import Browser, expect, sync_playwright

from tests.conftest import browser_arguments, find_browser
from tests.journeys.bench import ROOT, service
from tests.journeys.page import let_in

PICTURE = ROOT / "dashboard" / "watch.png"
SIZES = {"desktop": (1440, 900), "phone": (390, 844)}


def main() -> None:
    parser = argparse.ArgumentParser(description=__doc__)
    parser.add_argument("--all", type=Path, help="folder for every combination instead of the one picture")
    chosen = parser.parse_args()
    with (
        tempfile.TemporaryDirectory() as folder,
        service(Path(folder) / "data", "--demo") as running,
        sync_playwright() as playwright,
    ):
        found = find_browser(Path(playwright.chromium.executable_path))
        browser = playwright.chromium.launch(executable_path=found, args=browser_arguments())
        if not chosen.all:
            take(browser, running.url, "light", "desktop", PICTURE)
            return
        chosen.all.mkdir(parents=True, exist_ok=True)
        for rig, theme, size in itertools.product(("heron-1", "heron-2"), ("light", "dark"), SIZES):
            take(browser, f"{running.url}/?rig={rig}", theme, size, chosen.all / f"{rig}-{size}-{theme}.png")


def take(browser: Browser, url: str, theme: str, size: str, path: Path) -> None:
    """The page when the motor of the rig has been running for a moment."""
    width, height = SIZES[size]
    page = browser.new_page(viewport={"width": width, "height": height})
    let_in(page, url)
    page.goto(f"{url}{'&' if '?' in url else '/?'}theme={theme}")
    expect(page.locator(".far .state .x")).to_have_text("Running", timeout=90_000)
    page.wait_for_timeout(3000)
    page.screenshot(path=path, full_page=path != PICTURE)
    page.close()


if __name__ == "__main__":
    main()
