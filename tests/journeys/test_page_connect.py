"""How to connect, in a real browser: reached from Watch, cautions first, every point, and the check as it is told."""

from pathlib import Path

import pytest
from playwright.sync_api import Browser, expect

from tests.journeys.bench import service
from tests.journeys.page import opened

PUMP = "slipway_pump:stall and release"


@pytest.mark.long
def test_the_board_of_a_three_phase_motor_is_found_connected_as_it_was_meant(browser: Browser, tmp_path: Path) -> None:
    with (
        service(tmp_path / "data", "--demo-motor", PUMP) as running,
        opened(browser, running.url) as page,
    ):
        summary = page.locator(".sheet.connections")
        expect(summary.get_by_role("heading", name="Connections")).to_be_visible()
        summary.get_by_role("link", name="How to connect the board").click()
        expect(page.get_by_role("heading", name="How to connect the board")).to_be_visible()
        sheets = page.locator("main .sheet h2")
        expect(sheets.first).to_have_text("Before a wire is moved")
        expect(page.locator(".standing")).to_contain_text("Local codes and licensed practice come before")
        expect(page.locator(".standing li").last).to_contain_text("Slipring only watches.")
        expect(page.locator(".schematic [data-point]")).to_have_count(7)
        expect(page.locator(".schematic .unfitted")).to_have_count(0)
        line = page.locator(".points li", has_text="I L2").first
        expect(line).to_contain_text("arrow towards the motor")
        expect(line.locator(".tag")).to_have_text("right", timeout=45_000)
        told = page.get_by_role("region", name="Are they right?")
        expect(told).to_contain_text("Voltages and currents came in the order L1 L2 L3.", timeout=45_000)
        findings = {each["verdict"] for each in running.get("/api/rigs/heron-3/connections")["findings"]}
        assert findings == {"right"}


@pytest.mark.long
def test_on_a_phone_nothing_of_it_runs_out_of_the_page(browser: Browser, tmp_path: Path) -> None:
    with (
        service(tmp_path / "data", "--demo-motor", "tender_thruster") as running,
        opened(browser, f"{running.url}/#connect", "phone") as page,
    ):
        expect(page.locator("main")).to_contain_text("Before a wire is moved")
        expect(page.locator(".schematic [data-point]")).to_have_count(11)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
        outside = page.evaluate(
            """() => {
                const frame = document.querySelector(".plot").getBoundingClientRect();
                const texts = [...document.querySelectorAll(".schematic text")];
                const leaves = ({ left, right, top, bottom }) =>
                    left < frame.left || right > frame.right || top < frame.top || bottom > frame.bottom;
                return texts.filter((text) => leaves(text.getBoundingClientRect())).length;
            }"""
        )
        assert outside == 0
