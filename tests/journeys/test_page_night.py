"""The Night screen in a real browser: a night is read, looked at nearer and printed; a live one comes by itself."""

import re
import time
from collections.abc import Iterator

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.journeys.bench import Service, service, wait_for
from tests.journeys.made_night import RIG, MadeNight, made_night
from tests.journeys.page import barriers, opened

Bench = tuple[Service, MadeNight]
PICTURE = ".nightplot [role=img]"


@pytest.fixture(scope="module")
def bench(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    """A service that finds a night of heron-2 in its data folder, and a demo motor."""
    data = tmp_path_factory.mktemp("night") / "data"
    reference = made_night(data, "heron-2", time.time() - 2 * 86_400.0, step_s=1800.0)
    night = made_night(data, "heron-2", time.time() - 120.0, step_s=60.0)
    with service(data) as running:
        running.send("PUT", f"/api/runs/{reference.run}/tags", {"tags": ["reference"]})
        running.send("POST", "/api/rigs", RIG)
        running.send("POST", "/api/demo/start", {"motor": "cabin_ventilator", "story": "start and load", "pace": 1.0})
        yield running, night


def sentence(page: Page) -> str:
    return page.locator(PICTURE).get_attribute("aria-label") or ""


def seen(page: Page) -> str:
    """The stretch that is drawn, in words."""
    return sentence(page).partition(": ")[0]


def test_a_night_is_read_looked_at_nearer_and_printed_on_one_page(browser: Browser, bench: Bench) -> None:
    running, night = bench
    with opened(browser, f"{running.url}/?rig=heron-2#night/{night.run}") as page:
        expect(page.locator(PICTURE)).to_have_attribute(
            "aria-label", re.compile("current.*speed.*voltage.*commutator noise")
        )
        assert "3.81 to 5.80 A" in sentence(page)  # a leaf for 10 ms in twelve hours
        expect(page.locator(PICTURE)).to_have_attribute("aria-label", re.compile(r"One gap: .*8\smin.*cable out"))
        expect(page.locator(".nightplot svg").first).to_contain_text("without samples: cable out")
        answer = page.locator(".nightanswer")
        expect(answer).to_contain_text("It ran, but the commutator is wearing")
        expect(answer).to_be_in_viewport(ratio=1)
        report = page.locator(".nightreport")
        expect(report).to_contain_text("It ran, but the commutator is wearing and one alarm and one caution came.")
        expect(report).to_contain_text("unknown: nothing was recorded")
        expect(report).to_contain_text("Stop, let it cool.")
        expect(page.locator(".nightspent")).to_contain_text(
            re.compile(r"running 11\sh 5\d\smin.*not recorded 8\smin", re.S)
        )
        expect(page.locator(".nightspent")).to_contain_text(re.compile(r"at least \d\d\.\d\sAh, \d\d\d\sWh"))
        expect(page.locator(".account")).to_contain_text("every sample is stored, or missing for a reason")
        expect(page.locator(".nightplan")).to_contain_text("slipring plan heron-2 --set FILE")
        leaf = page.locator(".nightalarms li").filter(has_text="Current above 5.0 A.")
        expect(leaf).to_contain_text(
            re.compile("1.2\\ss, ended by itself; highest 5.80\\sA; acknowledged .*found a leaf")
        )
        assert barriers(page) == []
        page.locator(".account summary").click()
        expect(page.locator(".account")).to_contain_text(re.compile(r"promised each = "))
        assert len(re.findall(rb"/Type\s*/Page\b", page.pdf(format="A4"))) == 1

        whole = seen(page)
        leaf.get_by_role("button", name="Show").click()
        expect(page.locator(PICTURE)).not_to_have_attribute("aria-label", re.compile(re.escape(whole)))
        cross = page.get_by_role("slider", name="Cross line through all readings")
        expect(cross).to_have_attribute(
            "aria-valuetext", re.compile(r"current \d.\d\d\sA, .* to 5.80; speed .*; running\.$")
        )
        expect(cross).to_be_focused()
        page.keyboard.press("Escape")
        expect(page.locator(PICTURE)).to_have_attribute("aria-label", re.compile(re.escape(whole)))
        page.keyboard.press("Home")
        for _ in range(8):
            page.keyboard.press("Shift+ArrowRight")
        page.keyboard.press("Enter")
        expect(page.get_by_role("button", name="All of it")).to_be_enabled()
        page.get_by_role("button", name="All of it").click()
        page.keyboard.press("+")
        expect(page.get_by_role("button", name="Farther")).to_be_enabled()
        page.keyboard.press("-")
        expect(page.locator(PICTURE)).to_have_attribute("aria-label", re.compile(re.escape(whole)))
        box = cross.bounding_box()
        assert box is not None
        page.mouse.move(box["x"] + 300, box["y"] + 60)
        page.mouse.down()
        page.mouse.move(box["x"] + 420, box["y"] + 60, steps=4)
        page.mouse.up()
        expect(page.locator(PICTURE)).not_to_have_attribute("aria-label", re.compile(re.escape(whole)))

        page.get_by_text("Readings drawn").click()
        page.get_by_label(re.compile("active power")).check()
        expect(page.locator(".nightplot")).to_have_attribute("data-drawn", "5")
        page.reload()
        expect(page.locator(".nightplot")).to_have_attribute("data-drawn", "5")
        expect(page.locator(PICTURE)).to_have_attribute("aria-label", re.compile("active power .* W"))
        page.get_by_role("button", name="as a table").click()
        expect(page.locator(".nightplot table")).to_contain_text("nothing recorded")

        laid = page.get_by_role("link", name=re.compile("Compare with the reference of"))
        expect(laid).to_have_attribute("href", re.compile(rf"^#runs/\d{{8}}-\d{{4}}-heron-2\+{night.run}$"))
        page.get_by_role("link", name="Compare with another run").click()
        expect(page.locator(".hint")).to_have_text("Tick one more run: the two are laid on each other.")
        expect(page.locator(f'tr:has(a[href="#runs/{night.run}"])').get_by_role("checkbox")).to_be_checked()


@pytest.mark.long
def test_a_live_night_comes_by_itself_on_a_phone_and_its_alarm_is_acknowledged_with_a_note(
    browser: Browser, bench: Bench
) -> None:
    running, _ = bench
    rig = next(each["name"] for each in running.get("/api/rigs") if each["name"] != "heron-2")
    alarm = {"reading": "voltage_rms_v", "low": 1000.0, "hold_s": 0.5, "act": "Switch off", "rank": "caution"}
    running.send("PUT", f"/api/rigs/{rig}", {"alarms": {"too low": alarm}})
    wait_for(lambda: any(each["rig"] == rig for each in running.get("/api/alarms")["standing"]), "the alarm")
    with opened(browser, f"{running.url}/?rig={rig}#night", "phone", refused=True) as page:
        expect(page.locator(".nightspan [aria-current]")).to_have_text("this run")
        expect(page.locator(PICTURE)).to_have_attribute("aria-label", re.compile("voltage .* V"))
        expect(page.locator(".nightrigs")).to_contain_text("heron-2")
        expect(page.locator(".account")).to_contain_text("so far every sample is stored, or missing for a reason")
        first = sentence(page)
        row = page.locator(".nightalarms li").first
        row.get_by_role("textbox").fill("found a leaf")
        row.get_by_role("button", name="Acknowledge").click()
        expect(row).to_contain_text(re.compile("acknowledged .*found a leaf"))
        expect(page.locator(PICTURE)).not_to_have_attribute("aria-label", first)
        for name in ("last 12 h", "4 weeks"):
            page.get_by_role("link", name=name).click()
            expect(page.locator(".nightreport .title")).to_contain_text("ran")
            expect(page.locator(".nightplot svg").first).to_contain_text("not recorded")
        page.get_by_role("link", name="last 12 h").click()
        expect(page.locator(PICTURE)).to_have_attribute("aria-label", re.compile("voltage .* V"))
        cross = page.get_by_role("slider", name="Cross line through all readings")
        cross.press("Home")
        for _ in range(3):
            cross.press("Shift+ArrowRight")
        cross.press("Enter")
        expect(page.locator(PICTURE)).to_have_attribute("aria-label", re.compile(": nothing was recorded"))
        expect(page.locator(".nighttools")).to_contain_text("nothing was recorded")
        expect(page.get_by_role("button", name="Farther")).to_be_enabled()
        page.get_by_role("button", name="All of it").click()
        expect(page.locator(PICTURE)).to_have_attribute("aria-label", re.compile("voltage .* V"))
        page.locator(".nav").get_by_role("link", name="Rig").click()
        page.get_by_role("heading", name="Test plan").scroll_into_view_if_needed()
        page.locator(".nav").get_by_role("link", name="Night").click()
        expect(page.locator(".nightanswer")).to_be_in_viewport()
        assert page.evaluate("scrollY") == 0, "another screen begins at its top"
        expect(page.locator("main")).to_be_focused()
        page.set_viewport_size({"width": 320, "height": 700})
        assert page.evaluate("document.documentElement.scrollWidth") == 320
        order = (".nightanswer", ".nightplot", ".nightalarms", ".nightreport")
        tops = [page.locator(each).bounding_box() for each in order]
        assert [box["y"] for box in tops if box] == sorted(box["y"] for box in tops if box)
        assert None not in tops
        page.goto(f"{running.url}/?rig={rig}#night/20200101-0000-none")
        expect(page.locator(".trouble[role=alert]")).to_contain_text("There is no run")
