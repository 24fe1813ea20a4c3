"""Two points on a held picture, and pictures kept on purpose, in a real browser; a grinder starts and is loaded."""

from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.journeys.bench import Service, service, wait_for
from tests.journeys.page import STATE, barriers, opened


@pytest.fixture(scope="module")
def grinder(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Service, str]]:
    """A software board a second before its motor is switched on, and what is armed then: the next start."""
    with service(tmp_path_factory.mktemp("points") / "data") as running:
        rig = running.send("POST", "/api/demo/start", {"motor": "bench_grinder", "story": "start and load"})["rig"]
        running.send("POST", f"/api/rigs/{rig}/arm", {"what": "start", "before_s": 0.1, "after_s": 0.5})
        yield running, f"{running.url}/?rig={rig}"


def number(page: Page, label: str) -> float:
    """A value of the stretch, without its ±."""
    row = page.locator(".between .fields > div", has=page.get_by_text(label, exact=True))
    text = row.locator("dd").first.inner_text()
    return float(text.split(" ±")[0].replace("\u2009", "").replace("\u2212", "-"))


@pytest.mark.long
def test_what_was_armed_is_kept_though_the_page_was_closed_and_is_shown_and_measured(
    browser: Browser, grinder: tuple[Service, str]
) -> None:
    bench, url = grinder
    rig = url.split("=")[1]
    with opened(browser, url) as page:
        page.get_by_role("button", name="Keep something else").click()
        page.get_by_label("Level").fill("2.3")
        page.get_by_label("Keep", exact=True).select_option(label="0.1 s before, 0.4 s after")
        page.get_by_role("button", name="Wait for it").click()
        expect(page.locator("section.keep")).to_contain_text("Waiting for RMS current above 2.3\u00a0A")
    kept = wait_for(lambda: bench.get(f"/api/rigs/{rig}/kept")["kept"][:-1], "the load step is kept")
    assert kept[0]["text"] == "RMS current above 2.3 A"
    with opened(browser, url) as page:
        lines = page.locator(".keep .kept li")
        expect(lines).to_have_count(2)
        lines.last.get_by_role("button", name="Show: Start").click()
        expect(page.locator(".place.trace h2")).to_contain_text("Start: kept from")
        plot = page.locator(".place.trace .plot")
        box = plot.bounding_box()
        assert box is not None
        for share in (0.5, 0.7):  # the current swings 20 A there
            plot.click(position={"x": box["width"] * share, "y": 82.0})
        expect(page.locator(".between .fields")).to_contain_text("RMS current")
        assert number(page, "RMS current") == pytest.approx(13.9, abs=2.0)
        lines.first.get_by_role("button", name="Forget").click()
        expect(lines).to_have_count(1)


@pytest.mark.long
def test_by_keys_alone_a_picture_is_held_and_measured_between_two_points(
    browser: Browser, grinder: tuple[Service, str]
) -> None:
    with opened(browser, grinder[1]) as page:
        expect(page.locator(STATE)).to_have_text("Running", timeout=30_000)
        page.wait_for_timeout(300)  # three cycles behind the start
        page.keyboard.press("Space")
        begin = page.get_by_role("button", name="set two points")
        expect(begin).to_be_enabled()  # once the service has said what it keeps of the held picture
        begin.press("Enter")
        one, other = (page.get_by_role("slider", name=f"Point {k}") for k in (1, 2))
        expect(one).to_be_focused()
        expect(page.locator(".between .fields")).to_contain_text("Energy")
        assert number(page, "Angle of the fundamental") == pytest.approx(360.0, abs=0.2)
        assert number(page, "Time") == pytest.approx(20.0, abs=0.02)
        assert number(page, "RMS voltage") == pytest.approx(230.0, abs=2.0)
        assert number(page, "Energy") == pytest.approx(number(page, "Mean power") * 0.02, rel=0.01)
        other.press("ArrowLeft")
        assert "at a peak" in (other.get_attribute("aria-valuetext") or "")
        other.press("Shift+ArrowLeft")
        assert "at a sample" in (other.get_attribute("aria-valuetext") or "")
        other.press("Enter")
        assert "free" in (other.get_attribute("aria-valuetext") or "")
        other.press("ArrowDown")
        assert "I line" in (other.get_attribute("aria-valuetext") or "")
        assert not barriers(page)
        page.keyboard.press("Escape")
        expect(page.locator(".between")).to_have_count(0)
        page.keyboard.press("Space")
        expect(page.locator(".place.trace")).to_contain_text("three cycles")
        page.keyboard.press("-")
        expect(page.locator(".place.trace svg")).to_contain_text("40\u00a0ms")
        page.keyboard.press("+")
        expect(page.locator(".place.trace svg")).to_contain_text("60\u00a0ms")
