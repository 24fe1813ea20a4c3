"""The Wiring screen in a real browser: a wrong wiring is found, mended, kept and printed; on a phone step by step."""

import re
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Locator, Page, expect

from tests.journeys.bench import Service, running, service, wait_for, word_of
from tests.journeys.page import STATE, barriers, opened

NAMES = {"Hall A": "blue", "Hall B": "green", "Hall C": "white", "Lead U": "red", "Lead V": "black", "Lead W": "yellow"}


class Hand:
    """A motor in somebody's hand on the rig `bench`; `plug` moves the Hall wires on inputs A, B, C."""

    def __init__(self, service: Service, board: subprocess.Popen[bytes]) -> None:
        self.service, self._board = service, board

    @property
    def url(self) -> str:
        return f"{self.service.url}/?rig=bench#wiring"

    def plug(self, order: str) -> None:
        assert self._board.stdin is not None
        self._board.stdin.write(f"{order}\n".encode())
        self._board.stdin.flush()


@pytest.fixture(scope="module")
def turned(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Hand]:
    folder = tmp_path_factory.mktemp("wiring")
    said = folder / "board.txt"
    with running(["-m", "tests.journeys.hand_board"], said) as board:
        port = word_of(said, "/dev/")
        with service(folder / "data", "--rig", f"bench={port}") as started:
            yield Hand(started, board)


@pytest.fixture
def hand(turned: Hand) -> Hand:
    turned.plug("0 1 2")
    return turned


def fits(page: Page) -> bool:
    wide: list[int] = page.evaluate("[document.documentElement.scrollWidth, innerWidth]")
    return wide[0] <= wide[1]


def above(one: Locator, other: Locator) -> bool:
    """Both on the screen with nothing over them, one higher up."""
    for each in (one, other):
        each.click(trial=True, timeout=2_000)
        expect(each).to_be_in_viewport(ratio=1.0)
    first, second = one.bounding_box(), other.bounding_box()
    assert first is not None
    assert second is not None
    return first["y"] + first["height"] <= second["y"]


def test_a_wrong_wiring_is_found_mended_kept_with_its_run_and_printed_on_one_sheet(
    browser: Browser, hand: Hand, tmp_path: Path
) -> None:
    hand.plug("0 2 1")
    with opened(browser, hand.service.url + "/?rig=bench") as page:
        page.keyboard.press("2")
        expect(page.locator(STATE).first).to_have_text("Would not turn as it is wired")
        expect(page.locator(".far .state .y").first).to_contain_text("exchange the Hall wires B and C")
        drawing = page.get_by_role("img", name=re.compile("Hall B rises at 2[67][0-9] degrees, should at 150"))
        expect(drawing).to_be_visible()
        expect(page.locator(".ghost.level")).to_have_count(2)
        expect(page.get_by_role("img", name=re.compile("Torque fraction of the six orders"))).to_be_visible()
        assert not barriers(page)
        for width in (320, 820, 1440):
            page.set_viewport_size({"width": width, "height": 900})
            assert fits(page)
        page.get_by_role("button", name="Keep this with the run").click()
        with page.expect_popup() as popup:
            page.get_by_role("link", name="Open page 1 to print or send").click()
        sheet = popup.value
        expect(sheet.get_by_role("heading", level=1)).to_have_text("Would not turn as it is wired")
        assert sheet.evaluate("getComputedStyle(document.querySelector('h1')).fontSize") != "32px"  # its style holds
        assert len(re.findall(rb"/Type\s*/Page\b", sheet.pdf(format="A4"))) == 1
        sheet.close()
        hand.plug("0 1 2")
        page.get_by_role("button", name="I have moved wires: judge anew").click()
        expect(page.locator(STATE).first).to_have_text("Would run as it is wired")
        expect(page.locator(".ghost.level")).to_have_count(0)
        page.keyboard.press("4")
        page.locator(".when a").first.click()
        expect(page.locator(".checks")).to_contain_text("Would not turn as it is wired")
        page.get_by_role("button", name=re.compile("Delete check 1 of")).click()
        page.get_by_text("Deleted checks").click()
        page.get_by_role("button", name=re.compile("Bring back check 1 of")).click()
        expect(page.get_by_role("link", name=re.compile("Open check 1 of"))).to_be_visible()


@pytest.mark.long
def test_the_guided_check_goes_on_by_itself_on_a_phone_held_in_one_hand(browser: Browser, hand: Hand) -> None:
    with opened(browser, hand.url, "phone") as page:
        page.get_by_role("button", name="Begin the guided check").click()
        expect(page.get_by_role("heading", name="Step by step")).to_contain_text("step 1 of 11")
        wires = page.get_by_role("button", name="These are the wires")
        assert above(wires, page.get_by_role("button", name="the short way"))
        expect(page.get_by_label("Pole pairs")).to_have_value("7")
        expect(page.locator(".check-form")).to_contain_text("From the plate that the board told: pole pairs")
        for name, colour in NAMES.items():
            page.get_by_label(name, exact=True).fill(colour)
        heading = page.locator(".check .open h3")
        page.get_by_role("button", name="the short way").click()
        expect(heading).to_contain_text("The short way")
        page.get_by_role("button", name="Back", exact=True).click()
        page.get_by_role("button", name="Back", exact=True).click()
        expect(page.get_by_label("Lead W", exact=True)).to_have_value(
            "yellow"
        )  # typed, and not lost with the short way
        wires.click()
        expect(heading).to_contain_text("Supply of the sensors")
        expect(page.get_by_label("Voltage, V")).to_have_count(0)  # not before the cautions were seen
        agree = page.get_by_role("button", name="I have seen to all of it")
        expect(agree).to_be_in_viewport()
        box = agree.bounding_box()
        assert box is not None
        assert box["height"] >= 44
        assert box["y"] > 844 / 2  # under the thumb
        agree.click()
        page.get_by_label("Voltage, V").fill("5,02")
        page.get_by_label("Current, mA").fill("12")
        page.get_by_role("button", name="That is what it reads").click()
        page.get_by_role("button", name="I have seen to all of it").click()
        expect(heading).to_contain_text("Pole pairs")  # levels and order passed while the hand turned
        expect(page.locator(".far .step")).to_contain_text("of 2")
        assert not barriers(page)
        for width in (320, 390):
            page.set_viewport_size({"width": width, "height": 844})
            assert fits(page)
        page.get_by_role("button", name="Skip").click()
        expect(heading).not_to_contain_text("Pole pairs")
        page.get_by_role("button", name="Leave").click()
        expect(page.locator(".foot-bar")).to_contain_text("Leaving forgets what")
        page.locator(".foot-bar").get_by_role("button", name="Keep this with the run").click()
        expect(page.locator(".foot-bar")).to_contain_text("Kept as page")
        page.get_by_role("button", name="Stay").click()
        page.get_by_role("button", name="Leave").click()
        page.get_by_role("button", name="Forget and leave").click()
        expect(page.get_by_role("button", name="Begin the guided check")).to_be_visible()


@pytest.mark.long
def test_a_demo_motor_that_is_plugged_wrongly_on_the_page_is_found_and_mended_there(
    browser: Browser, tmp_path: Path
) -> None:
    with service(tmp_path / "data", "--demo-motor", "net_winder") as started:
        wait_for(lambda: _described(started), "the demo motor")
        rig = started.get("/api/rigs")[0]["name"]
        with opened(browser, f"{started.url}/?rig={rig}#wiring") as page:
            expect(page.locator(".teach .tag")).to_have_text("demo")
            page.get_by_label("Sensors on the inputs A B C").select_option("ACB")
            page.get_by_label("What moves the shaft").select_option("hand_forward")
            expect(page.locator(STATE).first).to_have_text("Would not turn as it is wired")
            page.get_by_label("Sensors on the inputs A B C").select_option("ABC")
            expect(page.locator(STATE).first).to_have_text("Would run as it is wired")
            page.get_by_role("button", name="All right again, and play the stories").click()
            expect(page.locator(".teach")).to_contain_text("The stories are playing")


def _described(started: Service) -> bool:
    rigs = started.get("/api/rigs")
    return bool(rigs and started.get(f"/api/rigs/{rigs[0]['name']}")["board"])
