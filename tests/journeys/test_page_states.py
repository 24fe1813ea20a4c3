"""What the page shows in each state, reached by its real cause: a cable pulled, a board that ends, a service killed."""

import contextlib
import os
import random
import re
import signal
from collections.abc import Iterator
from pathlib import Path
from typing import TypeAlias

import numpy as np
import pytest
from playwright.sync_api import Browser, expect

from tests.journeys.bench import Cable, Service, board, cable, service, wait_for
from tests.journeys.page import LINE, SIZES, STATE, barriers, opened

Bench: TypeAlias = tuple[Service, Cable]


@pytest.fixture(scope="module")
def rig(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Bench]:
    """The ventilator's board on a cable, the service at its other end."""
    folder = tmp_path_factory.mktemp("states")
    with (
        board(folder, "motor", "cabin_ventilator", "--story", "start and load", "--seed", "3") as (url, _),
        cable(url) as line,
        service(folder / "data", "--rig", f"bench={line.url}") as running,
    ):
        yield running, line


@pytest.mark.long
def test_a_service_without_a_board_says_so_and_offers_the_demo_motor(browser: Browser, tmp_path: Path) -> None:
    with service(tmp_path / "data") as running, opened(browser, running.url) as page:
        expect(page.locator(STATE)).to_have_text("No board yet")
        page.get_by_role("button", name="Start").first.click()
        expect(page.locator(".tag", has_text="demo")).to_be_visible()
        expect(page.locator(STATE)).to_have_text(re.compile("Resting|Starting|Running|Unknown|Coast"), timeout=30_000)


@pytest.mark.long
def test_a_board_that_is_plugged_in_is_found_by_itself(browser: Browser, tmp_path: Path) -> None:
    with (
        board(tmp_path, "motor", "cabin_ventilator") as (url, _),
        service(tmp_path / "data") as running,
        opened(browser, running.url) as page,
    ):
        expect(page.locator(STATE)).to_have_text("No board yet")
        (tmp_path / "ttyACM0").symlink_to(url)  # what the kernel does when a board is plugged in
        expect(page.locator(".far")).to_contain_text("r/min")
        assert running.get("/api/rigs")[0]["connection"] == "live"


@pytest.mark.long
def test_a_port_where_nobody_answers_is_being_asked(browser: Browser, tmp_path: Path) -> None:
    master, slave = os.openpty()
    try:
        port = os.ttyname(slave)
        with service(tmp_path / "data", "--rig", f"bench={port}") as running, opened(browser, running.url) as page:
            expect(page.locator(STATE)).to_have_text("Asking the board")
    finally:
        os.close(master)
        os.close(slave)


@pytest.mark.long
def test_bytes_that_are_not_ours_are_refused_with_what_was_seen(browser: Browser, tmp_path: Path) -> None:
    master, slave = os.openpty()
    try:
        port = os.ttyname(slave)
        with service(tmp_path / "data", "--rig", f"bench={port}") as running, opened(browser, running.url) as page:
            for _ in range(40):
                os.write(master, b"temp=21.5;rpm=1480\r\n" * 5)
                page.wait_for_timeout(100)
            expect(page.locator(STATE)).to_have_text("Board refused")
            expect(page.locator(".notice .title")).to_contain_text("text lines such as")
            expect(page.locator(LINE)).to_contain_text("bench is not watched.")
    finally:
        os.close(master)
        os.close(slave)


def test_a_living_board_is_shown_with_readings_that_change(browser: Browser, rig: Bench) -> None:
    with opened(browser, rig[0].url, "phone") as page:
        expect(page.locator(STATE)).to_have_text("Running", timeout=45_000)
        expect(page.locator(".far")).to_contain_text("r/min")
        expect(page.locator(".recording")).to_have_text("recording", use_inner_text=True)
        expect(page.get_by_role("img", name="voltage", exact=False).first).to_be_visible()


@pytest.mark.long
def test_silence_makes_the_picture_stale_and_then_the_numbers_dashes(browser: Browser, rig: Bench) -> None:
    running, line = rig
    with opened(browser, running.url) as page:
        expect(page.locator(".far")).to_contain_text("r/min")
        line.held = True
        expect(page.locator(LINE)).to_contain_text("The wire is open, no samples come.")
        expect(page.locator(".far .x.aged").first).to_be_visible()
        expect(page.locator(STATE)).to_have_text("No samples")
        expect(page.locator(".far div", has_text="Voltage").locator(".x")).to_contain_text("–")
        line.held = False
        expect(page.locator(LINE)).not_to_contain_text("no samples come")


def test_a_pulled_cable_is_told_and_its_gap_stays_in_the_recording(browser: Browser, rig: Bench) -> None:
    running, line = rig
    with opened(browser, running.url) as page:
        expect(page.locator(".recording")).to_contain_text("recording")
        line.pull()
        expect(page.locator(STATE)).to_have_text("Wire lost")
        expect(page.locator(LINE)).to_contain_text("The motor may still be running.")
        expect(page.locator(".recording")).to_contain_text("gap since")
        line.plug()
        expect(page.locator(STATE)).not_to_have_text("Wire lost")
        expect(page.locator(".recording")).not_to_contain_text("gap since")


def test_damage_on_the_wire_makes_readings_doubtful_with_the_reason(browser: Browser, rig: Bench) -> None:
    running, line = rig
    luck = random.Random(7)

    def flip(data: bytes) -> bytes:
        raw = bytearray(data)
        if raw and luck.random() < 0.05:
            raw[luck.randrange(len(raw))] ^= 0x10
        return bytes(raw)

    with opened(browser, running.url) as page:
        expect(page.locator(".far")).to_contain_text("r/min")
        line.damage = flip
        try:
            expect(page.locator(".doubt").first).to_be_visible()
            expect(page.locator(".readings .notes")).to_contain_text("missing")
            expect(page.locator(LINE)).to_contain_text("lost")
        finally:
            line.damage = bytes


@pytest.mark.long
def test_ending_the_run_by_hand_closes_it_in_words(browser: Browser, rig: Bench) -> None:
    running, _ = rig
    with opened(browser, running.url) as page:
        expect(page.locator(".recording")).to_contain_text("recording")
        running.send("POST", "/api/rigs/bench/run", {"action": "end"})
        # The motor of the story runs or will start again, so the next run opens by itself.
        wait_for(lambda: len(running.get("/api/runs")) >= 2, "a second run", 60)
        expect(page.locator(".recording")).to_contain_text("recording")


@pytest.mark.long
def test_a_run_that_was_ended_at_rest_stays_closed_in_words(browser: Browser, tmp_path: Path) -> None:
    np.savez(tmp_path / "rest.npz", u=np.zeros(80_000), i=np.zeros(80_000))
    (tmp_path / "rest.toml").write_text(TWO_CHANNELS)
    with (
        board(tmp_path, "play", str(tmp_path / "rest.npz"), "--loop") as (url, _),
        service(tmp_path / "data", "--rig", f"bench={url}") as running,
        opened(browser, running.url) as page,
    ):
        expect(page.locator(".recording")).to_contain_text("recording")
        running.send("POST", "/api/rigs/bench/run", {"action": "end"})
        expect(page.locator(".recording")).to_contain_text("run closed")


@pytest.mark.long
def test_a_clipped_source_is_marked_and_has_no_peak(browser: Browser, tmp_path: Path) -> None:
    with (
        clipped_source(tmp_path) as url,
        service(tmp_path / "data", "--rig", f"bench={url}") as running,
        opened(browser, running.url) as page,
    ):
        expect(page.locator(LINE)).to_contain_text("Current is clipped at ±40")
        expect(page.locator(".far")).to_contain_text("≥")
        expect(page.locator(".readings .notes")).to_contain_text("clipped")


@pytest.mark.long
def test_cautions_that_are_so_at_the_same_time_are_all_told(browser: Browser, tmp_path: Path) -> None:
    with (
        clipped_source(tmp_path) as url,
        service(unwritable(tmp_path), "--rig", f"bench={url}") as running,
        opened(browser, running.url, "phone") as page,
    ):
        expect(page.locator(f"{LINE} li")).to_contain_text(["Recording failed", "Current is clipped at ±40"])
        for caution in page.locator(f"{LINE} li").all():
            expect(caution).to_be_in_viewport(ratio=1)
        expect(page.locator(".far .x").last).to_be_in_viewport(ratio=1)


@contextlib.contextmanager
def clipped_source(tmp_path: Path) -> Iterator[str]:
    """The URL of a board that plays a current that is cut off at the ends of its range."""
    t = np.arange(0, 4, 1 / 20_000)
    voltage = 325 * np.sin(2 * np.pi * 50 * t)
    current = np.clip(60 * np.sin(2 * np.pi * 50 * t - 0.5), -40, 40)
    np.savez(tmp_path / "clipped.npz", u=voltage, i=current)
    (tmp_path / "clipped.toml").write_text(TWO_CHANNELS)
    with board(tmp_path, "play", str(tmp_path / "clipped.npz"), "--loop") as (url, _):
        yield url


def unwritable(tmp_path: Path) -> Path:
    """A data folder in which no run can be recorded."""
    data = tmp_path / "data"
    data.mkdir()
    (data / "runs").write_text("a file where the folder of recordings should be")
    return data


TWO_CHANNELS = """
[[channel]]
data = "u"
name = "U"
role = "voltage"
place = "supply"
unit = "V"
low = -400.0
high = 400.0
rate_hz = 20000
[[channel]]
data = "i"
name = "I"
role = "current"
place = "line"
unit = "A"
low = -40.0
high = 40.0
rate_hz = 20000
"""


@pytest.mark.long
def test_a_recording_that_cannot_be_written_is_told_while_the_page_goes_on(browser: Browser, tmp_path: Path) -> None:
    with (
        board(tmp_path, "motor", "cabin_ventilator") as (url, _),
        service(unwritable(tmp_path), "--rig", f"bench={url}") as running,
        opened(browser, running.url) as page,
    ):
        expect(page.locator(LINE)).to_contain_text("Recording failed")
        expect(page.locator(".far")).to_contain_text("r/min")


@pytest.mark.long
def test_a_killed_service_is_told_and_the_page_comes_back_with_it(browser: Browser, tmp_path: Path) -> None:
    with (
        board(tmp_path, "motor", "cabin_ventilator") as (url, _),
        service(tmp_path / "data", "--rig", f"bench={url}") as running,
        opened(browser, running.url, killed=True) as page,
    ):
        expect(page.locator(".far")).to_contain_text("r/min")
        running.process.send_signal(signal.SIGKILL)
        running.process.wait(10)
        expect(page.locator(STATE)).to_have_text("No service")
        expect(page.locator(LINE)).to_contain_text("This page lost the service")
        port = int(running.url.rsplit(":", 1)[1])
        with service(tmp_path / "data", "--rig", f"bench={url}", port=port):
            expect(page.locator(".far")).to_contain_text("r/min")
            expect(page.locator(LINE)).not_to_contain_text("lost the service")


@pytest.mark.parametrize(
    ("theme", "size"), [("light", "desktop"), pytest.param("dark", "phone", marks=pytest.mark.long)]
)
def test_the_demo_shows_two_rigs_at_both_sizes_and_themes_without_barriers_and_asks_no_other_host(
    browser: Browser, demo: Service, shots: Path | None, size: str, theme: str
) -> None:
    asked: list[str] = []
    with opened(browser, f"{demo.url}/?theme={theme}", size) as page:
        page.on("request", lambda request: asked.append(request.url))
        page.reload()  # all is asked for again, and nothing of any other host
        expect(page.locator(".tag", has_text="demo")).to_be_visible()
        expect(page.locator(STATE)).to_have_text("Running", timeout=60_000)
        assert barriers(page) == []
        assert page.evaluate("document.documentElement.scrollWidth") <= SIZES[size][0]
        page.locator(".tag", has_text="heron-2").click()
        expect(page.locator(".motor" if size == "desktop" else ".far")).to_be_visible()
        expect(page.get_by_role("heading", name="Hall states")).to_be_visible()
        if shots:
            page.screenshot(path=shots / f"watch-{size}-{theme}.png", full_page=True)
        assert asked
        assert all(url.startswith((demo.url, demo.url.replace("http", "ws"), "data:")) for url in asked)


@pytest.fixture(scope="module")
def demo(tmp_path_factory: pytest.TempPathFactory) -> Iterator[Service]:
    folder = tmp_path_factory.mktemp("demo")
    with service(folder / "data", "--demo") as running:
        yield running
