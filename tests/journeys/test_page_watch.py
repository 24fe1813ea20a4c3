"""What the drawings and numbers of Watch say while a motor runs and changes its speed, in a real browser."""

import contextlib
import re
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.journeys.bench import Service, board, service
from tests.journeys.page import STATE, opened

# In one turn of the page's own loop: the speed of the headline, of the table, and at the end of the strip's line.
SPEEDS = """() => {
  const own = (node) => [...node.childNodes].filter((each) => each.className !== 'sr' && each.tagName !== 'SUP')
    .map((each) => each.textContent).join('');
  const rows = [...document.querySelectorAll('.readings dl > div')];
  const row = rows.find((each) => each.querySelector('dt').textContent.startsWith('Speed'));
  const end = [...document.querySelectorAll('.place.strip text.b.speed:not(.e)')].map((each) => each.textContent);
  const far = document.querySelectorAll('.far .x')[1];
  return far && row && end[0] ? [far.firstChild.textContent, own(row.querySelector('.value')), end[0]] : null;
}"""


@pytest.fixture(scope="module")
def thruster(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    folder = tmp_path_factory.mktemp("watch")
    with (
        board(folder, "motor", "tender_thruster", "--story", "start and speed steps") as (url, _),
        service(folder / "data", "--rig", f"bench={url}") as running,
    ):
        yield running


FEWER_DIGITS = 2.0  # r/min: half a step of the headline, and what a steady digit may wait for


def number(text: str) -> float:
    return float(re.sub(r"[^\d.]", "", text))


def words_of(page: Page, place: str) -> list[str]:
    return page.locator(f".place.{place} svg text").all_text_contents()


def test_headline_table_and_drawing_tell_one_moment_while_the_speed_is_ramped(
    browser: Browser, thruster: Service
) -> None:
    with opened(browser, thruster.url) as page:
        expect(page.locator(STATE)).to_have_text("Running", timeout=30_000)
        told = set()
        for _ in range(300):
            if speeds := page.evaluate(SPEEDS):  # none while a busy PC leaves a gap
                told.add(tuple(speeds))
            if len(told) > 3:  # the duty was ramped in between
                break
            page.wait_for_timeout(50)
        assert len(told) > 3
        assert all(headline == end for headline, _, end in told), told
        assert all(abs(number(headline) - number(table)) <= FEWER_DIGITS for headline, table, _ in told), told


@pytest.mark.long
def test_a_brushless_motor_shows_three_phases_and_holds_them_against_the_plate(
    browser: Browser, thruster: Service
) -> None:
    with opened(browser, thruster.url) as page:
        expect(page.locator(STATE)).to_have_text("Running", timeout=30_000)
        expect(page.locator(".far")).to_contain_text("V; phase")
        expect(page.locator(".far")).to_contain_text("of the plate")
        words = words_of(page, "trace")
        assert [word for word in words if word.startswith("phase ")] == ["phase U", "phase V", "phase W"]
        assert {"came", "should come"} <= set(words_of(page, "hall"))


def test_a_held_picture_says_so_and_how_to_go_on_and_what_is_said_is_shown(browser: Browser, thruster: Service) -> None:
    with opened(browser, thruster.url) as page:
        expect(page.locator(".far")).to_contain_text("r/min")
        page.keyboard.press("Space")
        expect(page.locator(".place.trace .tag.held")).to_have_text("held, Space releases")
        page.keyboard.press("Space")
        expect(page.locator(".tag.held")).to_have_count(0)
        page.keyboard.press("s")
        expect(page.locator(".said")).to_contain_text("speed")


@pytest.mark.long
def test_no_dash_of_a_wave_stays_below_words_that_are_doubtful_no_more(browser: Browser, thruster: Service) -> None:
    with opened(browser, thruster.url) as page:
        frames: list[str] = []
        screen = page.context.new_cdp_session(page)
        screen.on("Page.screencastFrame", lambda frame: frames.append(frame["data"]))
        page.evaluate(COVER)
        page.wait_for_timeout(300)
        screen.send("Page.startScreencast", {"format": "png"})  # what was painted; a screenshot would paint all anew
        for change in ("wavy.textContent = '0 A'", "wavy.classList.remove('doubt')"):
            page.evaluate(change)
            page.wait_for_timeout(300)
    with contextlib.closing(browser.new_page()) as other:  # the service's own page may load no such image
        painted = other.evaluate(ROWS_WITH_INK, frames[-1])
    assert painted
    assert max(painted) <= BASELINE + 1, painted


BASELINE = 60
COVER = f"""() => {{
  const box = document.createElement('div');
  box.className = 'plot';
  box.style.height = '200px';
  box.innerHTML = '<svg viewBox="0 0 900 200" width="900" height="200">'
    + '<text id="wavy" class="e doubt" transform="translate(700 {BASELINE})">0.50 to +9.60 A and long</text></svg>';
  document.body.replaceChildren(box);
}}"""
ROWS_WITH_INK = """async (png) => {
  const image = new Image();
  image.src = 'data:image/png;base64,' + png;
  await image.decode();
  const canvas = new OffscreenCanvas(image.width, 200).getContext('2d', { willReadFrequently: true });
  canvas.drawImage(image, 0, 0);
  const row = (y) => [...new Uint32Array(canvas.getImageData(0, y, image.width, 1).data.buffer)];
  const paper = row(0)[0];
  return Array.from({ length: 200 }, (_, y) => y).filter((y) => row(y).some((pixel) => pixel !== paper));
}"""
