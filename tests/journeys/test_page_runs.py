"""The Runs screen in a real browser: a run is recorded, found, read, noted, played, deleted and brought back."""

import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.journeys.bench import Service, service, wait_for
from tests.journeys.page import LINE, STATE, opened

Ran = tuple[Service, str]
ROWS = ".sheet.runs tbody tr"


@pytest.fixture(scope="module")
def recorded(tmp_path_factory: pytest.TempPathFactory) -> Iterator[tuple[Service, str]]:
    """A service whose demo motor was seen to start, and the run of it, ended and summed up."""
    folder = tmp_path_factory.mktemp("runs")
    with service(folder / "data") as running:
        motor = {"motor": "cabin_ventilator", "story": "start and load", "pace": 4.0}
        rig = running.send("POST", "/api/demo/start", motor)["rig"]
        wait_for(lambda: running.get("/api/rigs")[0]["state"] == "running", "the motor to run")
        name = running.send("POST", f"/api/rigs/{rig}/run", {"action": "end"})["run"]
        wait_for(lambda: run_of(running, name)["summed_up"], "the run in short")
        yield running, name


def run_of(running: Service, name: str) -> dict[str, object]:
    found: dict[str, object] = next(run for run in running.get("/api/runs") if run["name"] == name)
    return found


def row_of(page: Page, name: str) -> str:
    return f'{ROWS}:has(a[href="#runs/{name}"])'


def test_a_run_is_found_opened_and_played_as_if_it_were_live(browser: Browser, recorded: Ran) -> None:
    running, name = recorded
    with opened(browser, running.url) as page:
        page.get_by_role("link", name="Runs").click()
        row = page.locator(row_of(page, name))
        expect(row).to_contain_text("cabin ventilator")
        expect(row.locator("svg.start path")).to_have_attribute(
            "d", re.compile(r"^M[\d.]+ [\d.]+(L[\d.]+ [\d.]+){50,}")
        )
        row.get_by_role("link").click()
        expect(page.locator(".sheet.run h2").first).to_contain_text("Run of ")
        expect(page.locator(".sheet.run .story")).to_contain_text("Power came on")
        page.get_by_role("button", name="Play", exact=True).click()
        expect(page.locator(".head .wire")).to_have_text(re.compile(r"^playing \d+\s\w{3} \d\d:\d\d:\d\d$"))
        expect(page.locator(STATE)).to_have_text("Running")
        expect(page.locator(".head .tag.playing")).to_be_visible()
        expect(page.locator(".alarmline")).to_contain_text("what is shown was so then")
        expect(page.locator(".place.story")).to_contain_text("Power came on")
        expect(page.locator(".sheet.keep")).to_contain_text("until playing goes elsewhere; the run has the samples")
        assert all(run["recording"] is False or run["name"] != name for run in running.get("/api/runs"))
        page.keyboard.press("5")
        expect(page.locator("main")).to_contain_text("it has the settings of its time")
        page.get_by_role("button", name="Stop playing").click()
        expect(page.locator(".sheet.run h2").first).to_contain_text("Run of ")
        expect(page.locator(".head .tag.playing")).to_have_count(0)
        assert running.get("/api/plays") == []
        watched = running.get("/api/rigs")[0]["name"]
        assert f"rig={watched}" in page.url, "the rig that was watched before is shown again"


@pytest.mark.long
def test_a_play_stands_still_goes_to_an_event_and_passes_slower(browser: Browser, recorded: Ran) -> None:
    running, name = recorded
    with opened(browser, f"{running.url}/#runs/{name}", refused=True) as page:
        page.get_by_role("button", name="Play from").first.click()
        bar = page.get_by_role("region", name="Playing a recorded run")
        pace, calibration = (bar.get_by_role("combobox", name=name) for name in ("Time passes", "Calibration"))
        bar.get_by_role("button", name="Pause").click()
        expect(bar.get_by_role("button", name="Play", exact=True)).to_be_visible()
        expect(page.locator(".head .wire")).to_contain_text("paused at")
        position = bar.get_by_role("slider", name="Position in the run")
        before = position.get_attribute("aria-valuenow")
        page.wait_for_timeout(1100)  # words follow once a second
        assert position.get_attribute("aria-valuenow") == before
        position.focus()
        page.keyboard.press("Home")
        expect(position).to_have_attribute("aria-valuenow", "0")
        expect(page.locator(LINE)).to_contain_text("computed without calibration: it had none then.")
        calibration.select_option("none")
        expect(page.locator(LINE)).to_contain_text("computed without calibration.")
        calibration.select_option("today")
        expect(bar.get_by_role("alert")).to_contain_text("is kept today, so this run cannot be played with it.")
        expect(calibration).to_have_value("none")
        pace.select_option("0.1")
        bar.get_by_role("button", name="Play", exact=True).click()
        expect(page.locator(".head .wire")).to_contain_text("10 times slower")
        page.get_by_role("heading", name="What happened").click()  # away from the field: keys of the page act again
        page.keyboard.press(".")
        expect(position).not_to_have_attribute("aria-valuenow", "0")
        box = position.bounding_box()
        assert box is not None
        pace.select_option("10")
        page.mouse.click(box["x"] + 0.98 * box["width"], box["y"] + 20)
        expect(page.locator(".head .wire")).to_contain_text("played to its end")
        expect(bar.get_by_role("button", name="Play again")).to_be_visible()
        bar.get_by_role("button", name="Stop playing").click()
        expect(bar).to_have_count(0)


@pytest.mark.long
def test_a_note_is_found_and_a_deleted_run_is_brought_back_at_once_or_later(browser: Browser, recorded: Ran) -> None:
    running, name = recorded
    with opened(browser, f"{running.url}/#runs/{name}") as page:
        page.get_by_label("Note").fill("first run with the new wheel")
        expect(page.locator(".notefield")).to_contain_text("saved")
        expect(page.locator(row_of(page, name))).to_contain_text("first run with the new wheel")
        find = page.get_by_role("searchbox", name="Find runs")
        find.fill("new wheel")
        expect(page.locator(ROWS)).to_have_count(1)
        expect(page.locator(".sheet.runs")).to_contain_text("1 run matches “new wheel”.")
        find.fill("no such word")
        expect(page.locator(".sheet.runs")).to_contain_text("No run matches “no such word”.")
        page.reload()
        expect(page.get_by_label("Note")).to_have_value("first run with the new wheel")
        row = page.locator(row_of(page, name))
        expect(row).to_have_count(1)
        page.get_by_role("button", name="Delete this run").click()
        undo = page.locator(".undo")
        expect(undo).to_contain_text("deleted.")
        expect(row).to_have_count(0)
        undo.get_by_role("button", name="Undo").click()
        expect(row).to_have_count(1)
        expect(page.locator(".sheet.run h2").first).to_contain_text("Run of ")
        page.get_by_role("button", name="Delete this run").click()
        expect(row).to_have_count(0)
        page.reload()
        page.get_by_text("Deleted runs").click()
        page.get_by_role("button", name="Remove for good").click()
        page.get_by_role("button", name="Keep it").click()
        page.get_by_role("button", name="Bring back").click()
        expect(row).to_have_count(1)
        assert run_of(running, name)["summed_up"] is True


@pytest.mark.long
def test_a_run_that_is_recorded_is_ended_before_it_can_be_deleted(browser: Browser, recorded: Ran) -> None:
    running, _ = recorded
    wait_for(lambda: any(run["recording"] for run in running.get("/api/runs")), "the next run")
    name = next(run["name"] for run in running.get("/api/runs") if run["recording"])
    with opened(browser, f"{running.url}/#runs/{name}", "phone") as page:
        expect(page.locator(".sheet.run")).to_contain_text("It is still open.")
        expect(page.get_by_role("button", name="Delete this run")).to_have_count(0)
        page.get_by_role("button", name="End this run").click()
        expect(page.get_by_role("button", name="Delete this run")).to_be_visible()
        page.get_by_role("link", name="All runs").click()
        expect(page.locator(row_of(page, name))).to_be_visible()
        assert page.evaluate("document.documentElement.scrollWidth <= innerWidth")
