"""The page in a real browser, for journeys."""

import contextlib
import json
import re
import urllib.request
from collections.abc import Iterator
from pathlib import Path
from urllib.parse import urlsplit

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.journeys.bench import RUNNING

expect.set_options(timeout=20_000)
BLANK = "about:blank"
STATE = ".far .state .x"
LINE = ".alarmline"
_AXE = "axe.run().then(result => result.violations.map(v => v.id + ': ' + v.nodes[0].html))"
_AXE_FILE = Path(__file__).resolve().parent.parent.parent / "dashboard" / "node_modules" / "axe-core" / "axe.min.js"
SIZES = {"desktop": (1440, 900), "phone": (390, 844)}
ONE_SIZE = ("desktop", pytest.param("phone", marks=pytest.mark.long))  # the other one in long journeys

_GONE = r"net::ERR_(CONNECTION|EMPTY_RESPONSE|SOCKET_NOT_CONNECTED)"
_KILLED = r"net::ERR_(?!BLOCKED)"  # what a browser says of a service that was killed, wherever it was in an answer

_REFUSED = r"status of (404|409|422)"


@contextlib.contextmanager
def opened(
    browser: Browser, url: str, size: str = "desktop", *, killed: bool = False, refused: bool = False
) -> Iterator[Page]:
    """A page of the service in a browser; anything the console complains about fails the test.

    `killed`: of a service that the test kills; `refused`: the service is asked for what it must refuse, or for a rig
    that has just got another name.
    """
    width, height = SIZES[size]
    expected = (_KILLED if killed else _GONE) + (f"|{_REFUSED}" if refused else "")
    page = browser.new_page(viewport={"width": width, "height": height})
    complaints: list[str] = []
    page.on("pageerror", lambda error: complaints.append(str(error)))
    page.on(
        "console",
        lambda message: (
            complaints.append(message.text)
            if message.type == "error" and "WebSocket" not in message.text and not re.search(expected, message.text)
            else None
        ),
    )
    if url != BLANK:
        let_in(page, url)
    page.goto(url)
    try:
        yield page
        assert not complaints, complaints
    finally:
        page.close()


def let_in(page: Page, url: str) -> None:
    """A session of the service for this page's browser, as a link gives it."""
    parts = urlsplit(url)
    service = RUNNING[f"{parts.scheme}://{parts.netloc}"]
    request = urllib.request.Request(
        f"{service.url}/api/enter",
        json.dumps({"link": service.link().partition("#")[2]}).encode(),
        {"Content-Type": "application/json", "Slipring-Request": "1", "Origin": service.url},
    )
    with urllib.request.urlopen(request, timeout=10) as answer:
        name, _, value = answer.headers["Set-Cookie"].partition(";")[0].partition("=")
    page.context.add_cookies([{"name": name, "value": value, "url": service.url, "sameSite": "Strict"}])


def barriers(page: Page) -> list[str]:
    """What axe-core finds on the page as it is: barriers for those who do not see it or use no mouse."""
    page.evaluate(_AXE_FILE.read_text() + ";0")
    found: list[str] = page.evaluate(_AXE)
    return found
