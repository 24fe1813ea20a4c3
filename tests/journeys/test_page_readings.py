"""A reading is pressed and opens in its place: definition, window, ± and budget; by mouse and keyboard."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.journeys.bench import Service, board, service
from tests.journeys.page import ONE_SIZE, SIZES, STATE, opened

FAR_CURRENT = ".far > div:nth-child(3)"
CURRENT = "current, RMS: what it is made of"


@pytest.fixture(scope="module")
def ventilator(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    folder = tmp_path_factory.mktemp("readings")
    with (
        board(folder, "motor", "cabin_ventilator") as (url, _),
        service(folder / "data", "--rig", f"bench={url}") as running,
    ):
        yield running


def row(page: Page) -> Locator:
    return page.locator(".readings dl > .press").filter(has_text="Current, RMS")


def figures(text: str) -> tuple[float, float]:
    """Value and ±, as they stand in a row."""
    value, half = re.findall(r"\d+\.?\d*", text.replace("\u2009", ""))[-2:]
    return float(value), float(half)


@pytest.mark.long
@pytest.mark.parametrize("size", ONE_SIZE)
def test_a_reading_opens_where_it_stands_to_what_it_is_made_of(
    browser: Browser, ventilator: Service, size: str
) -> None:
    with opened(browser, ventilator.url, size) as page:
        expect(page.locator(STATE)).to_have_text("Running", timeout=30_000)
        expect(row(page).locator(".pm")).to_contain_text("±", timeout=30_000)
        row(page).get_by_role("button").click()
        its = page.locator(".readings .opened")
        expect(its).to_contain_text("root of the mean square")
        expect(its).to_contain_text("IEC 61000-4-30")
        expect(its).to_contain_text("200 ms, until")
        expect(its.locator(".budget")).to_contain_text("gain of")
        expect(its.locator(".budget caption")).to_contain_text("1.96 times")
        shares = [float(share) for share in re.findall(r"(\d+\.?\d*)\s%", its.locator("tbody").inner_text())]
        assert 98 < sum(shares) < 102, shares
        box = its.bounding_box()
        assert box is not None
        assert box["x"] >= 0
        assert box["x"] + box["width"] <= SIZES[size][0]
        row(page).get_by_role("button").click()
        expect(its).to_have_count(0)


@pytest.mark.long
def test_the_far_number_opens_by_keyboard_below_the_far_line_and_closes_by_escape(
    browser: Browser, ventilator: Service
) -> None:
    with opened(browser, ventilator.url) as page:
        expect(page.locator(STATE)).to_have_text("Running", timeout=30_000)
        page.locator(FAR_CURRENT).get_by_role("button", name=CURRENT).focus()
        page.keyboard.press("Enter")
        expect(page.locator(".far .opened .facts")).to_contain_text("a current channel")
        expect(page.locator("dialog[open]")).to_have_count(0)
        page.keyboard.press("Escape")
        expect(page.locator(".opened")).to_have_count(0)
        assert page.evaluate("document.activeElement.getAttribute('aria-label')") == CURRENT


@pytest.mark.long
def test_a_word_says_why_it_has_no_plus_minus(browser: Browser, ventilator: Service) -> None:
    with opened(browser, ventilator.url) as page:
        expect(page.locator(STATE)).to_have_text("Running", timeout=30_000)
        page.get_by_role("button", name="state: what it is made of").click()
        expect(page.locator(".opened .whynot")).to_contain_text("it is a word, not a figure")


@pytest.mark.long
def test_what_is_absent_opens_to_its_reason_and_to_no_number(browser: Browser, ventilator: Service) -> None:
    with opened(browser, ventilator.url) as page:
        expect(page.locator(STATE)).to_have_text("Running", timeout=30_000)
        page.get_by_role("button", name="speed from back-EMF: what it is made of").click()
        expect(page.locator(".opened .much")).to_have_text(re.compile(r"^\s*–\s*$"))
        expect(page.locator(".opened")).to_contain_text("Absent: ")
        expect(page.locator(".opened .facts")).to_be_visible()
        expect(page.locator(".opened .budget, .opened .range, .opened .whynot")).to_have_count(0)


@pytest.mark.long
def test_the_row_ends_where_its_uncertainty_ends_and_holds_what_the_service_says(
    browser: Browser, ventilator: Service
) -> None:
    with opened(browser, ventilator.url) as page:
        expect(page.locator(STATE)).to_have_text("Running", timeout=30_000)
        expect(row(page).locator(".pm")).to_contain_text("±", timeout=30_000)
        value, half = figures(f"{row(page).locator('.value').inner_text()} {row(page).locator('.pm').inner_text()}")
        reading = ventilator.get("/api/rigs/bench/readings")["readings"]["current_rms_a"]
        assert 0.98 * reading["u95"] <= half <= 1.5 * reading["u95"]
        assert abs(value - reading["value"]) <= 2 * reading["u95"]  # two windows, each within its own
        assert str(half)[::-1].find(".") == str(value)[::-1].find(".")
