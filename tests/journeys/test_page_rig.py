"""The Rig screen in a real browser: settings changed, refused and undone on the page are those of the file."""

import re
from collections.abc import Iterator
from dataclasses import dataclass
from pathlib import Path
from typing import Any

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.journeys.bench import Service, board, service, wait_for
from tests.journeys.page import STATE, barriers, opened
from tests.journeys.rig_steps import makes_a_plan, tries_a_receiver

FACTS = ".plate .fields"
FAR_SPEED = ".far > div:nth-child(2)"
WRITTEN = """\
# the bench by the window
[rig]
port = "{port}"  # the left socket

[motor]
name = "fan"
type = "permanent_split_capacitor"

[motor.plate]
voltage_v = 230  # measured too
frequency_hz = 50
current_a = 0.55
locked_rotor_current_a = 1.28
speed_rpm = 1380
pole_pairs = 2
"""
STEADY = """\
stories:
- name: steady
  says: starts and runs
  lasts_s: 600
  steps:
  - {at_s: 0.5, supply_on: on}
"""


@dataclass(frozen=True)
class Bench:
    """A service with one rig, `bench`, whose file a person has written."""

    service: Service
    file: Path
    written: str

    @property
    def url(self) -> str:
        return f"{self.service.url}/?rig=bench#rig"

    def says(self, text: str) -> bool:
        return self.file.read_text() == text


@pytest.fixture(scope="module")
def running(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    folder = tmp_path_factory.mktemp("rig")
    file = folder / "data" / "rigs" / "bench.toml"
    file.parent.mkdir(parents=True)
    story = folder / "steady.yaml"
    story.write_text(STEADY)
    with board(folder, "motor", "cabin_ventilator", "--stories", str(story)) as (url, _):
        port = folder / "board"
        port.symlink_to(url)
        written = WRITTEN.format(port=port)
        file.write_text(written)
        with service(folder / "data", "--demo-motor", "cabin_ventilator") as started:
            yield Bench(started, file, written)


@pytest.fixture
def bench(running: Bench) -> Bench:
    """The file as it was written; the service reads it again by itself."""
    running.file.write_text(running.written)
    wait_for(lambda: _settings(running)["speed_unit"] == "r/min", "the file as it was")
    wait_for(lambda: _settings(running)["motor"]["plate"]["voltage_v"] == 230, "the plate as it was")
    return running


def _settings(bench: Bench) -> dict[str, Any]:
    settings: dict[str, Any] = bench.service.get("/api/rigs/bench")["settings"]
    return settings


def plate(page: Page) -> None:
    page.get_by_role("button", name="Change the plate").click()


def undo(page: Page) -> None:
    page.get_by_role("button", name="Undo the last change").click()


def save(page: Page) -> None:
    page.get_by_role("button", name="Save the plate").click()


def test_a_plate_that_is_changed_stands_in_the_file_with_its_comments_and_is_undone(
    browser: Browser, bench: Bench
) -> None:
    with opened(browser, bench.url) as page:
        plate(page)
        page.get_by_label("Voltage, V").fill("110")
        page.get_by_label("Power, W").fill("65,5")
        save(page)
        expect(page.locator(FACTS)).to_contain_text("65.5\u00a0W")
        changed = bench.written.replace("= 230  #", "= 110.0  #") + "power_w = 65.5\n"
        assert bench.says(changed)
        expect(page.locator(FACTS)).to_contain_text("the plate says 110\u00a0V, measured 230", timeout=60_000)
        undo(page)
        expect(page.locator(FACTS)).to_contain_text("Voltage230\u00a0V")
        assert bench.says(bench.written)
        undo(page)
        expect(page.locator(FACTS)).to_contain_text("65.5\u00a0W")
        assert bench.says(changed)


@pytest.mark.long
def test_what_is_written_by_hand_holds_on_the_page_and_a_mistake_is_told_with_its_line(
    browser: Browser, bench: Bench
) -> None:
    with opened(browser, bench.url) as page:
        bench.file.write_text(bench.written.replace('"fan"', '"blower"'))
        expect(page.locator(".plate h2")).to_contain_text("blower")
        bench.file.write_text(bench.written.replace("pole_pairs = 2", "pole_pairs = 0"))
        expect(page.get_by_role("alert")).to_contain_text("line 15: pole_pairs = 0: this is not possible")
        expect(page.locator(".plate h2")).to_contain_text("blower")
        bench.file.write_text(bench.written)
        expect(page.get_by_role("alert")).to_have_count(0)
        tries_a_receiver(page, bench.service.data)


@pytest.mark.long
def test_a_wrong_value_is_refused_at_its_field_and_nothing_is_written(browser: Browser, bench: Bench) -> None:
    with opened(browser, bench.url, refused=True) as page:
        plate(page)
        speed = page.get_by_label("Speed, r/min")
        for typed, sentence in (
            ("1600", "1600 r/min is above 1500 r/min, the synchronous speed of 2 pole pairs"),
            ("-3", "speed_rpm = -3.0: this is not possible; write a number from 0.1 to 1000000, such as 1380."),
            ("fast", "This is not a number; write it without a unit."),
        ):
            speed.fill(typed)
            save(page)
            expect(page.locator(".entry", has=speed).get_by_role("alert")).to_contain_text(sentence)
            expect(speed).to_be_focused()
            assert speed.get_attribute("aria-invalid") == "true"
            assert bench.says(bench.written)
        page.keyboard.press("Escape")
        expect(page.locator(FACTS)).to_contain_text("1\u2009380\u00a0r/min")
        makes_a_plan(page, bench.service.data)


@pytest.mark.long
def test_the_unit_of_speeds_and_a_limit_that_were_set_are_seen_on_the_other_screen(
    browser: Browser, bench: Bench
) -> None:
    with opened(browser, bench.url) as page:
        page.get_by_label("rad/s").press("Space")  # a click that the page's own moving swallows changes nothing
        expect(page.locator(FACTS)).to_contain_text("144.5\u00a0rad/s")
        page.get_by_role("button", name="Add a limit").click()
        page.get_by_label("Reading, speeds").select_option("voltage_rms_v")
        page.get_by_label("Highest").fill("1")
        page.get_by_role("button", name="Set the limit").click()
        expect(page.locator(".limits")).to_contain_text("now above it")
        assert 'speed_unit = "rad/s"\n' in bench.file.read_text()
        assert "[limits.voltage_rms_v]\nhigh = 1.0\n" in bench.file.read_text()
        page.get_by_role("link", name="Watch").click()
        expect(page.locator(".far")).to_contain_text("above 1\u00a0V, the limit you set")
        expect(page.locator(FAR_SPEED)).to_contain_text("rad/s")
        assert "r/min" not in page.locator("main").inner_text()
        readings = bench.service.get("/api/rigs/bench/readings")["readings"]
        assert readings["synchronous_speed_rpm"]["value"] == pytest.approx(1500, rel=0.01)


@pytest.mark.long
def test_a_channel_is_what_a_person_says_until_that_is_undone_and_the_rig_is_called_anew(
    browser: Browser, bench: Bench
) -> None:
    with opened(browser, bench.url, refused=True) as page:
        page.get_by_role("button", name="change what I auxiliary is").click()
        page.get_by_label("It measures").select_option("voltage")
        page.get_by_role("button", name="Read it so").click()
        expect(page.locator(".channels").get_by_role("alert")).to_contain_text("measures in A, a voltage is in V")
        page.get_by_label("It measures").select_option("")
        page.get_by_label("Where").fill("heater")
        page.get_by_role("button", name="Read it so").click()
        expect(page.locator(".channels")).to_contain_text("set by you; the board says current, auxiliary")
        assert '[channels."I auxiliary"]\nplace = "heater"\n' in bench.file.read_text()
        readings = "/api/rigs/bench/readings"
        wait_for(lambda: "current_rms_a.heater" in bench.service.get(readings)["readings"], "a reading of that place")
        undo(page)
        expect(page.locator(".channels")).not_to_contain_text("set by you")
        assert bench.says(bench.written)
        for name in ("window", "bench"):
            page.get_by_role("button", name="Change the settings").click()
            page.get_by_label("Name").fill(name)
            page.get_by_role("button", name="Save the settings").click()
            expect(page.locator(".rigs > button")).to_contain_text(name)
            assert bench.file.with_name(f"{name}.toml").exists()
        expect(page.locator(".plate h2")).to_contain_text("fan")


@pytest.mark.long
def test_the_screens_are_reached_by_key_and_foot_and_nothing_reaches_over_the_side(
    browser: Browser, bench: Bench
) -> None:
    # By keys: a press with a finger does nothing just when an alarm of a demo rig moves what is below it.
    with opened(browser, f"{bench.service.url}/?rig=bench", "phone") as page:
        expect(page.locator(STATE)).not_to_have_text("Waiting")
        screens = page.get_by_role("navigation", name="Screens")
        expect(screens.get_by_role("link", name="Watch")).to_have_attribute("aria-current", "page")
        box = screens.bounding_box()
        assert box is not None
        assert (box["y"] + box["height"], box["height"]) == (844, 56)
        key = (screens.get_by_role("link", name="Rig").text_content() or "")[-1]
        page.keyboard.press(key)
        expect(screens.get_by_role("link", name="Rig")).to_have_attribute("aria-current", "page")
        expect(page).to_have_title(re.compile("bench, .*, Rig: Slipring"))
        expect(page.locator("main")).to_contain_text("Slipring watches, it does not protect.")
        plate(page)
        page.get_by_role("button", name="Change the settings").press("Enter")
        page.get_by_role("button", name="change what U supply is").press("Enter")
        page.get_by_role("button", name="Add a limit").press("Enter")
        for width in (320, 390, 820, 1440):
            page.set_viewport_size({"width": width, "height": 844})
            assert page.evaluate("document.documentElement.scrollWidth") <= width, width
        assert barriers(page) == []
        page.keyboard.press("1")  # in a field: it writes
        expect(screens.get_by_role("link", name="Rig")).to_have_attribute("aria-current", "page")
        page.locator(".rigs > button").press("Enter")
        page.locator(".rigs .list").get_by_role("button", name="heron-1").press("Enter")  # the screen stays
        expect(page.locator("main")).to_contain_text("A demo rig keeps no settings.")
        expect(page.locator(".plan")).to_contain_text("A demo rig keeps no test plan")
        expect(page.locator(".plan").get_by_role("button")).to_have_count(0)
        others = page.locator(".sheet:not([aria-labelledby=alarms])")  # alarms hold for as long as it runs
        expect(others.get_by_role("button", name="Change")).to_have_count(0)
        expect(page.locator(".receivers")).to_contain_text("Nobody is called.")
        page.get_by_label("rad/s").press(" ")
        page.go_back()
        expect(page.locator(FAR_SPEED)).to_contain_text("rad/s")


@pytest.mark.long
def test_a_plan_for_disk_space_is_agreed_to_by_a_button_that_says_what_is_given_up_and_is_undone(
    browser: Browser, bench: Bench
) -> None:
    with opened(browser, bench.url, "phone") as page:
        plan = page.locator(".sheet.space")
        expect(plan).to_contain_text("No plan: when 1\u00a0GB of the disk is free, raw samples are recorded no more")
        expect(plan).to_contain_text(re.compile("room for"))
        plan.get_by_role("button", name="Make a plan").click()
        page.get_by_label("Keep of each hour").fill("120")
        assert not barriers(page)
        page.get_by_role("button", name="Agree: when room gets short, give up all other raw samples for good").click()
        expect(plan).to_contain_text(
            "but for 30\u00a0s before and after each event and alarm, and 120\u00a0s of each hour"
        )
        assert bench.says(bench.written + '\n[space]\nthin_raw = "agreed"\naround_s = 30.0\neach_hour_s = 120.0\n')
        page.get_by_role("button", name="Undo the last change").click()
        expect(plan).to_contain_text("No plan")
        assert bench.says(bench.written)
        assert page.evaluate("document.documentElement.scrollWidth") <= 390
