"""The Runs screen in a real browser: two starts laid on each other, tags, filters, an export and a report."""

import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, Route, expect

from server.runs.beside import write_digest
from server.runs.library import Library
from server.runs.sum_up import summed_up
from tests.journeys.bench import Service, service
from tests.journeys.page import barriers, opened
from tests.server.runs.recordings import OPENED_UTC_S, Story, recorded_run

OLDER: Story = ((1.0, 0.0, 0.0, 0.0), (0.4, 230.0, 1.5, 0.0), (6.0, 230.0, 0.5, 1400.0), (1.0, 0.0, 0.0, 0.0))
NEWER: Story = ((1.0, 0.0, 0.0, 0.0), (0.8, 230.0, 1.5, 0.0), (6.0, 230.0, 0.5, 1300.0), (1.0, 0.0, 0.0, 0.0))
DAY_S = 86_400.0
Kept = tuple[Service, list[str]]

pytestmark = pytest.mark.long


@pytest.fixture(scope="module")
def kept(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Kept]:
    """A service with three runs of three days in its folder; the oldest first."""
    data = tmp_path_factory.mktemp("compare") / "data"
    library = Library(data / "runs")
    names = [
        recorded_run(library, f"heron-{k + 1}", OPENED_UTC_S + k * DAY_S, story)
        for k, story in enumerate((OLDER, NEWER, ((0.4, 0.0, 0.0, 0.0),)))
    ]
    for name in names:
        write_digest(library.folder / name, summed_up(library.folder / name))
    library.close()
    with service(data) as running:
        yield running, names


def tick(page: Page, name: str) -> None:
    page.locator(f'.sheet.runs tbody tr:has(a[href="#runs/{name}"])').get_by_role("checkbox").click()


def test_two_ticked_runs_are_laid_on_each_other_and_a_third_is_refused_kindly(browser: Browser, kept: Kept) -> None:
    running, (older, newer, still) = kept
    with opened(browser, f"{running.url}/#runs") as page:
        tick(page, newer)
        expect(page.locator(".hint")).to_have_text("Tick one more run: the two are laid on each other.")
        held: list[Route] = []
        page.route("**/api/compare*", lambda route: held.append(route))
        tick(page, older)
        expect(page.get_by_role("progressbar", name="Playing a stretch of both runs")).to_be_visible()
        held[0].continue_()
        drawing = page.get_by_role("img", name=re.compile("^Speed and current of two runs laid on each other"))
        expect(drawing.locator("path.laid.current")).to_have_count(2)
        for weight in ("thin", "thick"):
            line = drawing.locator(f"path.laid.current.{weight}")
            expect(line).to_have_attribute("d", re.compile(r"^M[\d.]+ [\d.]+(H[\d.]+L?[\d. ]+){50,}"))
        expect(drawing.locator("text.speed", has_text="r/min")).to_have_count(1)
        rows = page.locator(".differs tbody tr")
        page.unroute("**/api/compare*")
        expect(rows.filter(has_text="Steady speed")).to_contain_text(re.compile("\u2212\\d"))
        expect(page.locator(".differs")).to_contain_text("its ± is not known")  # the tiny board does not say it
        assert rows.filter(has_text="Steady current").count() == 0
        tick(page, still)
        expect(page.locator(".hint")).to_contain_text("Untick one of the two first.")
        expect(page.get_by_role("checkbox", checked=True)).to_have_count(2)
        page.get_by_role("combobox", name="Laid on each other at").select_option("power_off")
        expect(page.get_by_role("heading", name=re.compile("^Two runs"))).to_be_visible()
        assert barriers(page) == []
        for width in (320, 390, 820, 1920):
            page.set_viewport_size({"width": width, "height": 844})
            assert page.evaluate("document.documentElement.scrollWidth <= innerWidth"), width


def test_a_run_is_tagged_found_compared_with_the_reference_and_exported(browser: Browser, kept: Kept) -> None:
    running, (older, newer, _) = kept
    with opened(browser, f"{running.url}/#runs/{older}") as page:
        page.get_by_role("button", name="make it the reference run").click()
        expect(page.locator(".tags .tag")).to_have_text("reference")
        page.get_by_label("Another tag").fill("old wheel")
        page.keyboard.press("Enter")
        page.get_by_role("button", name="Find runs tagged old wheel").click()
        expect(page.locator(".sheet.runs tbody tr")).to_have_count(1)
        page.get_by_role("searchbox", name="Find runs").fill("")
        page.get_by_label("What happened", exact=True).select_option(index=0)
        page.goto(f"{running.url}/#runs/{newer}")
        page.get_by_role("link", name=re.compile("^Compare with the reference of")).click()
        expect(page.locator(".differs tbody tr").first).to_be_visible()
        page.goto(f"{running.url}/#runs/{newer}")
        expect(page.locator(".account")).to_contain_text("every sample is stored, or missing for a reason")
        page.get_by_label("From where to where").select_option(index=1)
        page.get_by_role("button", name=re.compile(r"^Export, [\d.]+\s[kM]B$")).click()
        with page.expect_download() as fetched:
            page.get_by_role("link", name=re.compile("^Fetch Samples as ")).click()
        file = Path(fetched.value.path())
        assert newer in fetched.value.suggested_filename
        assert len(file.read_bytes().splitlines()) > 5000  # a thousand rows a second of some seven
        page.get_by_role("button", name="Make the report, PDF").click()
        with page.expect_download() as fetched:
            page.get_by_role("link", name="Fetch Report, PDF").click()
        assert Path(fetched.value.path()).read_bytes().startswith(b"%PDF-")
        page.get_by_role("button", name="Remove Report, PDF").click()
        page.get_by_role("button", name=re.compile(r"^Save as one file, [\d.]+\s[kM]B$")).click()
        with page.expect_download() as fetched:
            page.get_by_role("link", name="Fetch The run as one file").click()
        assert fetched.value.suggested_filename == f"{newer}.slipring"
        page.get_by_role("button", name="Remove The run as one file").click()
        expect(page.locator(".makings li")).to_have_count(1)
