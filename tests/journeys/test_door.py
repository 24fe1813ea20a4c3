"""The door of this PC in a real browser: a link opens the page once and leaves no trace; else it says what to do."""

import subprocess
import sys
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, Request, expect

from tests.journeys.bench import ROOT, Service, service
from tests.journeys.page import ONE_SIZE, SIZES, barriers

TRACES = """() => [location.href, document.referrer, document.documentElement.outerHTML, JSON.stringify(localStorage),
  JSON.stringify(sessionStorage), document.cookie, ...performance.getEntries().map(entry => entry.name)].join("\\n")"""


@pytest.fixture(scope="module")
def empty(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    """A service without any rig."""
    with service(tmp_path_factory.mktemp("door") / "data") as running:
        yield running


def window(browser: Browser, size: str = "desktop") -> Page:
    width, height = SIZES[size]
    return browser.new_page(viewport={"width": width, "height": height})


def test_a_link_opens_the_page_once_and_its_secret_is_nowhere_afterwards(browser: Browser, empty: Service) -> None:
    page, link = window(browser), empty.link()
    secret = link.partition("#")[2]
    asked: list[str] = []

    def note(request: Request) -> None:
        asked.append(request.url)
        asked.extend(request.all_headers().values())

    page.on("request", note)
    page.goto(link)
    expect(page.get_by_text("Plug it in. It is found by itself.")).to_be_visible()
    assert page.url == f"{empty.url}/"
    assert secret not in page.evaluate(TRACES)
    assert secret not in "\n".join(asked)
    page.reload()
    expect(page.get_by_text("Plug it in. It is found by itself.")).to_be_visible()
    page.goto(link)  # pressed once more where one is in already: the page
    expect(page.get_by_text("Plug it in. It is found by itself.")).to_be_visible()
    page.go_back()
    assert secret not in page.evaluate(TRACES)
    page.close()


@pytest.mark.long
@pytest.mark.parametrize("size", ONE_SIZE)
def test_a_used_link_says_how_to_get_another_one(browser: Browser, empty: Service, size: str) -> None:
    link = empty.link()
    first = window(browser)
    first.goto(link)
    expect(first.get_by_text("Plug it in. It is found by itself.")).to_be_visible()
    first.close()
    page = window(browser, size)
    page.goto(link)
    expect(page.get_by_role("heading", name="This link opens nothing any more")).to_be_visible()
    expect(page.locator("pre")).to_have_text("slipring link")
    assert link.partition("#")[2] not in f"{page.url} {page.content()}"
    assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
    assert barriers(page) == []
    page.reload()
    expect(page.get_by_role("heading", name="This page needs a link")).to_be_visible()
    page.goto(empty.url)
    expect(page.get_by_role("heading", name="This page needs a link")).to_be_visible()
    page.close()


def test_a_page_whose_session_is_ended_makes_way_for_the_door(browser: Browser, empty: Service) -> None:
    page = window(browser)
    page.goto(empty.link())
    expect(page.get_by_text("Plug it in. It is found by itself.")).to_be_visible()
    number = page.evaluate("async () => (await (await fetch('api/session')).json()).number")
    command = [sys.executable, "-m", "server", "sessions", "--end", str(number), "--data", str(empty.data)]
    subprocess.run(command, cwd=ROOT, check=True, capture_output=True, timeout=60)
    expect(page.get_by_role("heading", name="This page needs a link")).to_be_visible()
    page.close()
