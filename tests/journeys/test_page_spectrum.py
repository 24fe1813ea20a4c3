"""Harmonics as a table and the spectrum with its names, in a real browser, while a universal motor runs."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.journeys.bench import Service, board, service
from tests.journeys.page import STATE, opened


@pytest.fixture(scope="module")
def planer(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    folder = tmp_path_factory.mktemp("spectrum")
    with (
        board(folder, "motor", "hand_planer", "--story", "start and load") as (url, _),
        service(folder / "data", "--rig", f"bench={url}") as running,
    ):
        yield running


def panel(page: Page, name: str) -> Locator:
    found = page.locator(f".place.{name}")
    found.scroll_into_view_if_needed()
    return found


@pytest.mark.long
def test_the_ripple_of_the_commutator_is_named_where_it_stands(browser: Browser, planer: Service) -> None:
    with opened(browser, planer.url) as page:
        expect(page.locator(STATE)).to_have_text("Running", timeout=30_000)
        spectrum = panel(page, "spectrum")
        expect(spectrum.locator("svg")).to_contain_text("5 f")
        spectrum.get_by_role("button", name="to 8\u00a0kHz").click()
        expect(spectrum.locator("svg")).to_contain_text("8\u2009000\u00a0Hz")
        expect(spectrum.locator("svg")).to_contain_text("c n − f")
        spectrum.get_by_role("button", name="as a table").click()
        row = spectrum.locator("tr", has_text="commutator ripple, lower")
        expect(row).to_contain_text("stands out")
        at = re.search(r"([\d\u2009]+\.\d)\u00a0Hz", row.text_content() or "")
        assert at
        assert 2000.0 < float(at[1].replace("\u2009", "")) < 7500.0  # 24 bars at some 5 000 to 18 000 r/min


@pytest.mark.long
def test_all_orders_stand_in_the_table_with_uncertainty_and_limits_for_information(
    browser: Browser, planer: Service
) -> None:
    with opened(browser, planer.url) as page:
        expect(page.locator(STATE)).to_have_text("Running", timeout=30_000)
        harmonics = panel(page, "harmonics")
        harmonics.get_by_role("button", name="as a table").click()
        expect(harmonics.locator("tbody tr")).to_have_count(51)
        expect(harmonics).to_contain_text("for information only: this is no compliance test")
        expect(harmonics.locator("tbody tr").nth(5)).to_contain_text("1.140\u00a0A")
        expect(harmonics.locator("tbody tr").nth(1).locator("td").nth(2)).to_have_text(re.compile(r"\d"))  # its ±
        harmonics.get_by_role("button", name="voltage", exact=True).click()
        expect(harmonics.locator("tbody tr").nth(1)).to_contain_text("\u00a0V")
        expect(harmonics).not_to_contain_text("compliance")
