"""Rigs on the page: what is wrong with one, demo motors started and stopped, boards found, rigs removed."""

import os
import re
import signal
import subprocess
from collections.abc import Iterator
from pathlib import Path

import pytest
from playwright.sync_api import Browser, Page, expect

from simulator.bench import BENCH_KEYS
from tests.journeys.bench import Service, board, service, wait_for
from tests.journeys.page import LINE, STATE, opened

NOTICE = ".notice .answer"
LIVING = re.compile("Resting|Starting|Running|Unknown|Coasting|Stalled")


def said(running: Service) -> str:
    """All that the service has said on its terminal."""
    return "".join(path.read_text() for path in running.data.parent.glob(f"{running.data.name}-service-*.txt"))


def menu(page: Page, choice: str) -> None:
    page.locator(".rigs > button").press("Enter")  # by keys: an alarm of a demo rig may move what a finger is at
    page.locator(".rigs .list").locator("button, a", has_text=choice).press("Enter")


@pytest.mark.long
def test_a_port_that_is_not_there_is_named_on_page_and_terminal(browser: Browser, tmp_path: Path) -> None:
    port = tmp_path / "no-such-port"
    with service(tmp_path / "data", "--rig", f"bench={port}") as running, opened(browser, running.url) as page:
        expect(page.locator(STATE)).to_have_text("No board yet")
        expect(page.locator(NOTICE)).to_contain_text(f"There is no port {port}")
        expect(page.locator(NOTICE)).to_contain_text("Plug the board in.")
        expect(page.locator(NOTICE)).to_contain_text("Trying again every 1\u00a0s.")
        page.wait_for_timeout(1500)  # it is tried again meanwhile
        assert said(running).count("bench: There is no port") == 1
        page.get_by_role("link", name="Add a board or demo motor").click()
        expect(page.get_by_role("heading", name="Add a board or demo motor")).to_be_focused()
        page.keyboard.press("Escape")
        expect(page.locator(NOTICE)).to_be_visible()


@pytest.mark.long
def test_settings_that_are_refused_say_where_and_are_read_again_when_corrected(
    browser: Browser, tmp_path: Path
) -> None:
    file = tmp_path / "data" / "rigs" / "bench.toml"
    file.parent.mkdir(parents=True)
    file.write_text('[rig]\nname = "bench"\nport = "/dev/no-such-port"\nbuad = 115200\n')
    with service(tmp_path / "data") as running, opened(browser, running.url) as page:
        expect(page.locator(STATE)).to_have_text("Settings refused")
        expect(page.locator(f"{NOTICE} .title")).to_contain_text("bench.toml, line 4: ")
        expect(page.locator(f"{NOTICE} .place")).to_have_text(f"file {file}")
        assert (page.text_content("body") or "").count("line 4") == 1
        file.write_text(file.read_text().replace("buad", "baud"))
        expect(page.locator(STATE)).to_have_text("No board yet")


@pytest.mark.long
def test_a_rig_that_is_not_there_is_told_with_those_that_are(browser: Browser, tmp_path: Path) -> None:
    with (
        service(tmp_path / "data", "--rig", "bench=/dev/no-such-port") as running,
        opened(browser, f"{running.url}/?rig=bnech") as page,
    ):
        expect(page.locator(STATE)).to_have_text("No such rig")
        expect(page.locator(NOTICE)).to_contain_text('There is no rig "bnech"')
        page.get_by_role("button", name="Show bench").click()
        expect(page.locator(STATE)).to_have_text("No board yet")


@pytest.mark.long
def test_the_demo_opens_on_a_demo_motor_beside_a_saved_rig(browser: Browser, tmp_path: Path) -> None:
    with service(tmp_path / "data", "--rig", "bench=/dev/no-such-port"):
        pass
    with service(tmp_path / "data", "--demo") as running, opened(browser, running.url) as page:
        expect(page.locator(".rigs > button")).to_contain_text("heron-1")
        expect(page.locator(STATE)).to_have_text(LIVING)


@pytest.mark.long
def test_one_demo_motor_is_started_stopped_and_another_started_from_the_page(browser: Browser, tmp_path: Path) -> None:
    with service(tmp_path / "data") as running, opened(browser, running.url, "phone") as page:
        page.get_by_role("button", name="Start").first.click()
        expect(page.locator(STATE)).to_have_text(LIVING)
        menu(page, "Stop this demo motor")
        expect(page.locator(STATE)).to_have_text("No board yet")
        page.get_by_role("button", name="Start").nth(1).click()
        expect(page.locator(STATE)).to_have_text(LIVING)
        menu(page, "Add a board or demo motor")
        page.get_by_role("button", name="Start").first.click()
        expect(page.locator(".rigs > button")).to_contain_text("heron-1")
        expect(page.locator(STATE)).to_have_text(LIVING)
        menu(page, "Stop this demo motor")
        expect(page.locator(".rigs > button")).to_contain_text("heron-2")
        assert [rig["name"] for rig in running.get("/api/rigs")] == ["heron-2"]


@pytest.mark.long
def test_a_story_of_any_motor_is_chosen_and_plays_beside_another(browser: Browser, tmp_path: Path) -> None:
    with (
        service(tmp_path / "data", "--demo-motor", "bilge_pump:flat battery") as running,
        opened(browser, running.url) as page,
    ):
        expect(page.locator(".rigs > button")).to_contain_text("heron-3")
        menu(page, "Add a board or demo motor")
        expect(page.locator(".choices.demo li")).to_have_count(len(BENCH_KEYS))
        pump = page.locator(".choices.demo li", has_text="Bilge pump")
        expect(pump).to_contain_text("heron-3 runs: flat battery")
        pump.get_by_role("combobox").select_option("clogged")
        expect(pump).to_contain_text("Its strainer clogs with weed")
        pump.get_by_role("button", name="Start the bilge pump").click()
        expect(page.locator(".rigs > button")).to_contain_text("heron-4")
        expect(page.locator(STATE)).to_have_text(LIVING)
        expect(page.locator(".head .tag").first).to_have_text("demo, clogged")
        playing = {rig["name"]: rig["demo_story"] for rig in running.get("/api/rigs")}
        assert playing == {"heron-3": "flat battery", "heron-4": "clogged"}
        page.locator(".rigs > button").click()
        expect(page.locator(".rigs .list")).to_contain_text("bilge pump, clogged")


@pytest.mark.long
def test_a_killed_demo_motor_keeps_its_picture_and_is_started_again(browser: Browser, tmp_path: Path) -> None:
    with service(tmp_path / "data") as running, opened(browser, running.url) as page:
        page.get_by_role("button", name="Start").first.click()
        expect(page.locator(STATE)).to_have_text("Running", timeout=45_000)
        expect(page.locator(".story li").first).to_be_visible()
        os.kill(child_of(running), signal.SIGKILL)
        expect(page.locator(STATE)).to_have_text("Demo motor ended")
        sentence = "The software board cabin_ventilator was killed (signal 9)."
        expect(page.locator(f"{NOTICE} .title")).to_have_text(sentence)
        assert (page.text_content("body") or "").count(sentence) == 1
        assert said(running).count(sentence) == 1
        expect(page.locator(".trace .faint")).to_be_visible()
        expect(page.locator(".story li").first).to_be_visible()
        (rig,) = running.get("/api/rigs")
        assert (rig["connection"], rig["state"]) == ("ended", "unknown")
        page.get_by_role("button", name="Start it again").click()
        expect(page.locator(STATE)).to_have_text(LIVING)
        expect(page.locator(".story li").first).to_be_visible()


def child_of(running: Service) -> int:
    """The software board that the service runs."""
    asked = subprocess.run(["pgrep", "-P", str(running.process.pid)], capture_output=True, text=True, check=True)
    (child,) = asked.stdout.split()
    return int(child)


@pytest.fixture
def foreign(tmp_path: Path) -> Iterator[Path]:
    """A port where something that is no board says what it likes."""
    master, slave = os.openpty()
    link = tmp_path / "ttyACM7"
    link.symlink_to(os.ttyname(slave))
    yield link
    os.close(master)
    os.close(slave)


@pytest.mark.long
def test_asking_a_port_makes_no_rig_and_a_board_that_answers_is_watched_and_removed(
    browser: Browser, tmp_path: Path, foreign: Path
) -> None:
    with (
        board(tmp_path, "motor", "cabin_ventilator", "--tcp", "0") as (url, _),
        service(tmp_path / "data") as running,
        opened(browser, running.url) as page,
    ):
        row = page.locator(".choices li", has_text=str(foreign))
        row.get_by_role("button", name="Ask it").click()
        expect(row).to_contain_text("no answer: no Slipring board, or no power")
        page.get_by_role("button", name="Type a port").click()
        page.get_by_label("Port").fill(url)
        page.locator("form").get_by_role("button", name="Ask it").click()
        row = page.locator(".choices li", has_text=url)
        expect(row).to_contain_text("Slipring board")
        assert running.get("/api/rigs") == []
        assert list((running.data / "rigs").iterdir()) == []
        row.get_by_label("Name of the rig").fill("winch")
        row.get_by_role("button", name="Watch it").click()
        expect(page.locator(STATE)).to_have_text(LIVING)
        (rig,) = running.get("/api/rigs")
        assert rig["name"] == "winch"
        menu(page, "Remove this rig")
        expect(page.get_by_role("dialog")).to_contain_text("Its recordings stay")
        expect(page.get_by_role("button", name="Keep it")).to_be_focused()
        page.keyboard.press("Escape")
        expect(page.locator(".rigs > button")).to_be_focused()
        assert len(running.get("/api/rigs")) == 1
        menu(page, "Remove this rig")
        page.get_by_role("button", name=f"Remove {rig['name']}").click()
        expect(page.locator(STATE)).to_have_text("No board yet")
        assert running.get("/api/rigs") == []
        assert [path.name for path in (running.data / "rigs").iterdir()] == [f"{rig['name']}.toml.previous"]
        wait_for(lambda: len(running.get("/api/runs")) == 1, "the recording")


@pytest.mark.long
def test_the_list_of_rigs_is_used_by_keyboard_alone(browser: Browser, tmp_path: Path) -> None:
    with (
        service(tmp_path / "data", "--rig", "bench=/dev/no-such-port") as running,
        opened(browser, running.url) as page,
    ):
        name = page.locator(".rigs > button")
        name.focus()
        page.keyboard.press("Enter")
        for choice in ("bench", "Add a board or demo motor", "Remove this rig"):
            page.keyboard.press("Tab")
            expect(page.locator(".rigs .list :focus")).to_contain_text(choice)
        page.keyboard.press("Escape")
        expect(name).to_be_focused()
        expect(page.locator(".rigs .list")).to_have_count(0)
        page.keyboard.press("Enter")
        for _ in range(4):
            page.keyboard.press("Tab")
        expect(page.locator(".rigs .list")).to_have_count(0)


@pytest.mark.long
def test_without_a_caution_the_line_promises_nothing(browser: Browser, tmp_path: Path) -> None:
    with service(tmp_path / "data") as running, opened(browser, running.url) as page:
        expect(page.locator(LINE)).to_have_text("No alarms. Slipring only watches; it is no safety device.")
        expect(page.get_by_role("region", name="Cautions")).to_be_visible()
