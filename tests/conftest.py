"""What all tests share: where a browser is, where the open recordings are, where the tools are."""

import gc
import os
import shutil
from collections.abc import Iterator
from pathlib import Path

import pytest
from hypothesis import settings
from playwright.sync_api import Browser, Error, Playwright, sync_playwright

from dashboard.build_page import node_and_npm

ROOT = Path(__file__).resolve().parent.parent
# The first is the second without what a screen needs: journeys take a fifth less with it.
_BROWSERS: tuple[str, ...] = ("chromium-headless-shell", "chromium", "chromium-browser")
_BROWSERS += ("google-chrome", "google-chrome-stable", "microsoft-edge", "msedge")
_QUIET = ["--disable-gpu", "--disable-quic", "--no-first-run", "--disable-background-networking"]
_QUIET += ["--disable-component-update", "--disable-sync"]
_NO_BROWSER = (
    "no browser found: sudo apt install chromium-headless-shell, or .venv/bin/python -m playwright install chromium, "
    "or name one in SLIPRING_BROWSER"
)

# Checks of the code, and tests that only compute, in no time but their own: what they cost nobody has to wait for.
_PATIENT = (
    "tests/coverage",
    "tests/house/test_checks.py",
    "tests/seeded",
    "tests/server/accuracy",
    "tests/server/alarms",
    "tests/server/board_check",
    "tests/server/connection",
    "tests/server/duty",
    "tests/server/events",
    "tests/server/quantities",
    "tests/server/report",
    "tests/server/run_state",
    "tests/server/verdicts",
    "tests/server/wiring",
    "tests/simulator/hall_cases",
    "tests/simulator/motors",
    "tests/simulator/test_bench.py",
    "tests/simulator/test_stories.py",
)

settings.register_profile("same", derandomize=True, deadline=None, database=None)  # each run tries the same examples
settings.load_profile("same")


def pytest_addoption(parser: pytest.Parser) -> None:
    parser.addoption("--browser-must", action="store_true", help="fail instead of skipping where no browser is found")
    parser.addoption("--firmware-must", action="store_true", help="fail instead of skipping where a tool is missing")
    parser.addoption("--shots", default="", help="folder for screenshots of the pages tested (--shots=DIR)")


def pytest_configure(config: pytest.Config) -> None:
    """Of two processes that read the same files one begins at the end: where they meet, each has compiled half."""
    if os.environ.get("PYTEST_XDIST_WORKER") == "gw1" and [Path(each).resolve() for each in config.args] == [
        ROOT / "tests"
    ]:
        config.args = sorted(map(str, (ROOT / "tests").rglob("test_*.py")), reverse=True)


def pytest_ignore_collect(collection_path: Path, config: pytest.Config) -> bool | None:
    """Of those that are alone only the files that may hold some are read: all of them take seconds."""
    if collection_path.suffix != ".py" or config.getoption("markexpr") != "alone and not long":
        return None
    return None if "mark.alone" in collection_path.read_text(encoding="utf-8") else True


def pytest_collection() -> None:
    gc.disable()  # nothing of what is collected is rubbish


def pytest_collection_finish() -> None:
    """The thousands of tests stay: looking at them again and again took a fifth of the time."""
    gc.collect()
    gc.freeze()
    gc.enable()


@pytest.hookimpl(tryfirst=True)  # before they are chosen by their marks
def pytest_collection_modifyitems(items: list[pytest.Item]) -> None:
    for item in items:
        if item.nodeid.startswith(_PATIENT) and not item.get_closest_marker("alone"):
            item.add_marker("patient")
    items.sort(key=lambda item: (item.get_closest_marker("patient") is not None, item.path.parts))


@pytest.hookimpl(tryfirst=True)
def pytest_runtest_setup(item: pytest.Item) -> None:
    """From the first test on that has time, this process stands behind all else (`run.py` waits for that)."""
    if item.get_closest_marker("patient") and (folder := os.environ.pop("SLIPRING_BEHIND", "")):
        if hasattr(os, "nice"):
            os.nice(19)
        Path(folder, os.environ.get("PYTEST_XDIST_WORKER", "")).touch()


@pytest.fixture(autouse=True)
def _as_urgent_as_before(monkeypatch: pytest.MonkeyPatch) -> None:
    """A process that has lowered its own priority never gets it back; this one runs the other tests too."""
    if hasattr(os, "nice"):
        monkeypatch.setattr(os, "nice", lambda by: 0)


@pytest.fixture(scope="module")  # not the session: its event loop would stand in the way of asynchronous tests
def browser(request: pytest.FixtureRequest) -> Iterator[Browser]:
    """A real Chromium, headless. Skips with a sentence where there is none; with --browser-must that is a failure."""
    # The driver's own Node needs a library that a bare Debian lacks; the one of the wheel does not.
    os.environ.setdefault("PLAYWRIGHT_NODEJS_PATH", str(node_and_npm()[0]))
    with sync_playwright() as playwright:
        running = launched(playwright)
        if running is None:
            if request.config.getoption("--browser-must"):
                pytest.fail(_NO_BROWSER)
            pytest.skip(_NO_BROWSER)
        yield running
        running.close()


def launched(playwright: Playwright) -> Browser | None:
    """A headless Chromium of this PC; None where there is none. One that does not start is a failure."""
    found = find_browser(Path(playwright.chromium.executable_path))
    if found is None:
        return None
    sandbox = [] if os.name == "nt" or os.geteuid() else ["--no-sandbox"]
    try:
        return playwright.chromium.launch(executable_path=found, args=_QUIET + sandbox)
    except Error as error:
        pytest.fail(f"{found} does not start: {error}")


def find_browser(own: Path) -> str | None:
    """A browser that is there: the one named in SLIPRING_BROWSER, the driver's own, one on the path."""
    named = os.environ.get("SLIPRING_BROWSER")
    if named or own.exists():
        return named or str(own)
    return next((path for path in map(shutil.which, _BROWSERS) if path), None)


def browser_arguments() -> list[str]:
    """Chromium refuses its sandbox to the superuser; the rest keeps it from calling home."""
    return [*_QUIET, *([] if os.name == "nt" or os.geteuid() else ["--no-sandbox"])]


@pytest.fixture(scope="session")
def shots(request: pytest.FixtureRequest) -> Path | None:
    """Where screenshots go when they are wanted."""
    folder = request.config.getoption("--shots")
    return Path(folder) if folder else None


@pytest.fixture(scope="session")
def recordings() -> Path:
    """The folder of open recordings of real motors; skips where it is not beside the checkout."""
    folder = Path(os.environ.get("SLIPRING_DATA", ROOT.parent / "shared" / "data"))
    if not (folder / "index.yaml").exists():
        pytest.skip("the open recordings are not beside the checkout and SLIPRING_DATA names no folder with them")
    return folder
