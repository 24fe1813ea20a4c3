"""Three phases on the page: the phasor drawing in a sentence and as a table, which phase is shown."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, expect

from tests.journeys.bench import Service, board, service
from tests.journeys.page import SIZES, STATE, opened


@pytest.fixture(scope="module")
def pump(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    folder = tmp_path_factory.mktemp("phasors")
    with (
        board(folder, "motor", "slipway_pump", "--story", "start and load") as (url, _),
        service(folder / "data", "--rig", f"bench={url}") as running,
    ):
        yield running


def angle(text: str) -> float:
    return float(text.replace("\N{MINUS SIGN}", "-").rstrip("°"))


@pytest.mark.long
def test_the_phasors_are_told_in_a_sentence_and_stand_as_a_table(browser: Browser, pump: Service) -> None:
    with opened(browser, pump.url) as page:
        expect(page.locator(STATE)).to_have_text("Running", timeout=30_000)
        its = page.locator(".place.phasors")
        expect(its.locator(".plot")).to_have_attribute("aria-label", re.compile(r"voltage L1 .*at 0\.0°; voltage L2"))
        expect(its.locator(".plot")).to_have_attribute("aria-label", re.compile("currents in the order L1 L2 L3"))
        its.get_by_role("button", name="as a table").click()
        rows = its.locator("tbody tr")
        expect(rows).to_have_count(6)
        cells = [rows.nth(k).locator("td").nth(1).inner_text() for k in range(6)]
        volts, amps = [angle(cell) for cell in cells[:3]], [angle(cell) for cell in cells[3:]]
        assert volts == pytest.approx([0, -120, 120], abs=2)
        lags = [(volt - amp) % 360 for volt, amp in zip(volts, amps, strict=True)]
        assert all(15 < lag < 90 for lag in lags), lags


@pytest.mark.long
@pytest.mark.parametrize("size", SIZES)
def test_phases_stand_in_their_order_and_the_far_line_says_which_one_it_shows(
    browser: Browser, pump: Service, size: str
) -> None:
    with opened(browser, pump.url, size) as page:
        expect(page.locator(STATE)).to_have_text("Running", timeout=30_000)
        heads = page.locator(".readings .places").first.locator("thead th")
        expect(heads).to_have_text(["at", "L1", "L2", "L3", "all three"])
        expect(page.locator(".far")).to_contain_text("phase L1; highest")
        expect(page.locator(".far")).to_contain_text(re.compile(r"phase L1; 40\d\.\d.V between lines"))
        if size == "phone":
            total = page.locator(".far .phone-only")
            expect(total).to_contain_text("all phases, power factor")
        assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0]
