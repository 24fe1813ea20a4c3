"""Alarms on the page: what to do first, acknowledged by keys, seen on other pages, ended, noted, shelved, set."""

import contextlib
import re
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from tests.journeys.bench import Service, board, service
from tests.journeys.page import LINE, barriers, opened

JAMMED = """\
stories:
- name: jammed
  says: runs, is jammed and stays so
  lasts_s: 600
  steps:
  - {at_s: 0.5, supply_on: on}
  - {at_s: 6, jammed: on, faults: [locked_rotor]}
"""
PLATE = """\
[rig]
port = "%s"

[motor]
type = "permanent_split_capacitor"
[motor.plate]
voltage_v = 230
frequency_hz = 50
current_a = 0.55
speed_rpm = 1380
pole_pairs = 2
locked_rotor_current_a = 1.28
"""
CALL, BUTTON = ".standing .call", ".standing .btn"
STEADY_MS = 400  # a press in the 300 ms after the block has moved what is below it does nothing
# Presses a place as a finger does, the moment the block has come into the page.
PRESSED = """(seen) => new Promise(done => {
  new MutationObserver((_, all) => {
    const block = document.querySelector('.alarmline.alarm');
    if (!block) return;
    all.disconnect();
    let pressed = false;
    const button = document.querySelector('.standing .btn');
    button.addEventListener('click', () => { pressed = true; });
    button.dispatchEvent(new MouseEvent('click', {bubbles: true, cancelable: true, detail: 1}));
    done(pressed);
  }).observe(document.body, {childList: true, subtree: true, attributes: true});
})"""


@pytest.fixture
def bench(tmp_path: Path) -> Iterator[Service]:
    """A rig whose board is not plugged in yet, and one beside it where nothing is."""
    rigs = tmp_path / "data" / "rigs"
    rigs.mkdir(parents=True)
    (rigs / "bench.toml").write_text(PLATE % (tmp_path / "board"))
    (rigs / "shelf.toml").write_text('[rig]\nport = ""\n')
    with service(tmp_path / "data") as started:
        yield started


@contextlib.contextmanager
def jammed(folder: Path) -> Iterator[None]:
    """Plugs in the board of a ventilator that is jammed seconds later."""
    (folder / "jammed.yaml").write_text(JAMMED)
    with board(folder, "motor", "cabin_ventilator", "--stories", str(folder / "jammed.yaml")) as (url, _):
        (folder / "board").symlink_to(url)
        yield


def told(page: Page) -> str:
    return page.locator(f"{LINE} [aria-live=assertive]").inner_text()


def test_an_alarm_is_seen_heard_acknowledged_ended_shelved_and_set(
    browser: Browser, bench: Service, tmp_path: Path
) -> None:
    with (
        opened(browser, f"{bench.url}/?rig=bench", refused=True) as page,
        opened(browser, f"{bench.url}/?rig=shelf", "phone") as phone,
        jammed(tmp_path),
    ):
        # It is seen as it comes, and taken care of by two keys.
        assert page.evaluate(PRESSED, None) is False, "a press meant for what was there before does nothing"
        expect(page.locator(CALL)).to_have_text("Switch off")
        expect(page.locator(LINE)).to_contain_text("a stalled winding overheats in seconds")
        expect(page.locator(LINE)).to_contain_text("Slipring never stops a motor")
        expect(page.locator(f"{LINE} li")).to_have_count(0)  # the caution that says the same is gone
        assert told(page) == "Alarm. Switch off. The motor is stalled; a stalled winding overheats in seconds."
        expect(phone.locator(CALL)).to_have_text("bench: Switch off")
        expect(phone.locator(".tag.alarm")).to_contain_text("bench")
        assert phone.evaluate("document.documentElement.scrollWidth") <= 390
        page.wait_for_timeout(STEADY_MS)
        page.keyboard.press("a")
        expect(page.locator(BUTTON)).to_be_focused()
        page.keyboard.press("Enter")
        expect(page.locator(".standing .how")).to_contain_text(re.compile("acknowledged \\d"))
        expect(phone.locator(".standing .how")).to_contain_text("acknowledged")
        assert told(page) == ""
        assert barriers(page) == []
        expect(page.locator(".sheet.story")).to_contain_text("Alarm acknowledged")

        # Shelved with a reason, and one of the person's own is set, refused at its field first.
        page.evaluate("location.hash = 'rig'")
        page.get_by_role("button", name="Shelve: No samples while the motor ran").click()
        page.get_by_label("Why").fill("wires are changed")
        page.get_by_role("button", name="Shelve it").click()
        expect(page.locator(".alarms")).to_contain_text("wires are changed")
        expect(page.locator(".alarms")).to_contain_text("Slipring never stops a motor; a protective device must.")
        page.get_by_role("button", name="Turn off: The motor has stalled").click()
        expect(page.locator(".standing")).to_have_count(0)  # over, and seen: gone
        page.wait_for_timeout(STEADY_MS)
        page.get_by_role("button", name="a limit", exact=True).click()
        page.get_by_label("Name").fill("draws much")
        page.get_by_label("Reading, speeds").select_option("current_rms_a")
        page.get_by_label("Rank").select_option("alarm")
        page.get_by_label("Highest").fill("0,2")
        page.get_by_role("button", name="Set the alarm").click()
        expect(page.locator(".alarms .wrong")).to_contain_text("does not say what to do first")
        page.get_by_role("textbox", name="What to do first").fill("Look at the fan")
        page.get_by_label("It must be so for, s").fill("0.5")
        page.get_by_role("button", name="Set the alarm").click()
        expect(page.locator(CALL)).to_have_text("Look at the fan")
        expect(page.locator(LINE)).to_contain_text("Current, RMS is above 0.2\u00a0A.")
        expect(page.locator(".alarms")).to_contain_text("Current, RMS above 0.2\u00a0A for 0.5\u00a0s.")
        written = (bench.data / "rigs" / "bench.toml").read_text()
        assert '[alarms."draws much"]' in written
        assert 'act = "Look at the fan"' in written
        page.wait_for_timeout(STEADY_MS)
        page.get_by_role("button", name="Remove: draws much").click()
        expect(page.locator(f"{LINE}.ended")).to_contain_text("It is not watched any more.")
        expect(phone.locator(".who > .tag.alarm.over")).to_contain_text("bench")  # framed, no more filled
        page.wait_for_timeout(STEADY_MS)
        page.get_by_role("button", name="note").click()  # it ended unseen: outlined until somebody has seen it
        page.keyboard.press("Escape")
        expect(page.locator(".alarmline .all")).to_have_count(0)
        expect(page.get_by_role("button", name="note")).to_be_focused()
        page.keyboard.press("Enter")
        page.keyboard.press("a")
        expect(page.locator(BUTTON)).to_be_focused()  # not what opens and closes the list
        page.get_by_placeholder("what was found").fill("a leaf")
        page.keyboard.press("Enter")
        expect(page.locator(".standing")).to_have_count(0)
        record = bench.get("/api/rigs/bench/alarms")
        assert [(each["kind"], each["note"]) for each in record["told"][:2]] == [
            ("acknowledged", "a leaf"),
            ("ended", ""),
        ]
        assert barriers(page) == []
